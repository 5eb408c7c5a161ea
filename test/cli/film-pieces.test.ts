import { inflateSync } from "node:zlib";
import { describe, expect, it } from "vitest";
import { pace } from "../../src/cli/film-job.js";
import { uprightGray } from "../../src/cli/film-still.js";
import { grayPng } from "../../src/cli/gray-png.js";

describe("pace", () => {
  it("tells frames, rate and time left", () => {
    expect(pace(120, 600, 2000)).toBe("reading frame 120 of 600 (60 frames/s, 8 s left)");
  });

  it("tells no time left where the clip does not tell its frames, or told too few", () => {
    expect(pace(90, null, 1000)).toBe("reading frame 90 (90 frames/s)");
    expect(pace(90, 80, 1000)).toBe("reading frame 90 (90 frames/s)");
  });
});

describe("grayPng", () => {
  it("packs rows as differences after the header that the PNG specification asks for", () => {
    const png = grayPng(3, 2, Uint8Array.from([10, 20, 15, 200, 0, 255]));
    expect([...png.subarray(0, 8)]).toEqual([137, 80, 78, 71, 13, 10, 26, 10]);
    expect(png.readUInt32BE(16)).toBe(3);
    expect(png.readUInt32BE(20)).toBe(2);
    const packed = png.subarray(41, 41 + png.readUInt32BE(33));
    expect([...inflateSync(packed)]).toEqual([1, 10, 10, 251, 1, 200, 56, 255]);
    // The last chunk is the same in every PNG file (W3C PNG specification, 11.2.5).
    expect(png.subarray(-12).toString("hex")).toBe("0000000049454e44ae426082");
  });
});

describe("uprightGray", () => {
  const frame = { timeS: 0, width: 3, height: 2, stride: 4, luma: Uint8Array.from([16, 235, 16, 9, 16, 16, 16, 9]) };
  const shown = (rotationDeg: 0 | 90 | 180 | 270) => {
    const { width, height, gray } = uprightGray({ width: 3, height: 2, rotationDeg }, frame);
    return Array.from({ length: height }, (_, y) => [...gray.subarray(y * width, (y + 1) * width)]);
  };

  it("stretches limited range to the full one and leaves out what pads the rows", () => {
    expect(shown(0)).toEqual([
      [0, 255, 0],
      [0, 0, 0],
    ]);
  });

  it("turns the picture clockwise by the clip's turn", () => {
    expect(shown(90)).toEqual([
      [0, 0],
      [0, 255],
      [0, 0],
    ]);
    expect(shown(180)).toEqual([
      [0, 0, 0],
      [0, 255, 0],
    ]);
    expect(shown(270)).toEqual([
      [0, 0],
      [255, 0],
      [0, 0],
    ]);
  });
});
