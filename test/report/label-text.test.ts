import { describe, expect, it } from "vitest";
import { namesOf } from "../../src/report/label-text.js";

describe("namesOf()", () => {
  it("tells in words what nobody named, and leaves a given name as it is", () => {
    const nameOf = namesOf([
      { id: "load-of-7.9-A", name: "load-of-7.9-A" },
      { id: "load-of-7.9-A-2", name: "load-of-7.9-A-2" },
      { id: "switched-load", name: "switched-load" },
      { id: "switched-load-2", name: "switched-load-2" },
      { id: "lamp", name: "load-of-7.9-A" },
      { id: "radio-stack", name: "" },
    ]);
    expect(
      ["load-of-7.9-A", "load-of-7.9-A-2", "switched-load", "switched-load-2", "lamp", "radio-stack"].map(nameOf),
    ).toEqual([
      "Load of 7.9 A",
      "Load of 7.9 A, 2",
      "Switched load",
      "Switched load 2",
      "load-of-7.9-A",
      "radio-stack",
    ]);
  });
});
