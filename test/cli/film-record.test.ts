import { describe, expect, it } from "vitest";
import { colourPng } from "../../src/cli/gray-png.js";
import { conclusionOf } from "../../src/cli/verify.js";
import { checkRecord } from "../../src/cli/verify-record.js";
import { recordData } from "../../src/report/embedded-data.js";
import { picturesText, readPictures } from "../../src/report/pictures.js";
import { recordInputs } from "../../src/report/record-inputs.js";
import { renderSeveralHtml } from "../../src/report/several-html.js";
import { renderSeveralPdf } from "../../src/report/several-pdf.js";
import { ofType, pageTexts, pdfInside } from "../report/pdf-inside.js";
import { smallRecording } from "./small-check.js";
import { analysis, context, fonts, given, html, means, pdf, plotlySource } from "./small-record.js";

const [width, height] = [24, 16];
const shade = (level: number) => {
  const rgba = Uint8Array.from({ length: 4 * width * height }, (_, at) => (at % 4 === 3 ? 255 : (level * at) % 256));
  return colourPng(width, height, rgba).toString("base64");
};
const pictures = (level: number) =>
  picturesText([
    { title: "The still <as found>.", alt: "A dial", width, height, png: shade(level) },
    { title: "Frames around each dip.", alt: "Rows of frames", width, height, png: shade(level + 1) },
  ]);
const record = (text: string) =>
  recordData(analysis, context, recordInputs(smallRecording, { ...given, picturesText: text }));

const DRAWINGS = {
  "report.html": async (text: string) => html(record(text)),
  "report.pdf": async (text: string) => pdf(record(text)),
  "several.html": async (text: string) => {
    const one = { analysis, context, record: record(text) };
    return renderSeveralHtml([one, one], { plotlySource });
  },
  "several.pdf": async (text: string) => {
    const one = { analysis, context, record: record(text) };
    return renderSeveralPdf([one, one], { fonts });
  },
};
const names = Object.keys(DRAWINGS) as (keyof typeof DRAWINGS)[];

describe("a record of a film", () => {
  it.each(names)("carries its pictures in %s, shows them, and is found intact", async (name) => {
    const found = await checkRecord(name, await DRAWINGS[name](pictures(3)), means);
    expect(found.lines.filter((line) => line.state === "changed")).toEqual([]);
    expect(conclusionOf(found.lines)).toBe("intact");
    expect([...found.files].find(([file]) => file.endsWith("pictures.json"))![1]).toBe(pictures(3));
  });

  it("shows both pictures with their words, in HTML as data and in PDF without transparency", async () => {
    const page = new TextDecoder().decode(await DRAWINGS["report.html"](pictures(3)));
    expect(page.match(/<img src="data:image\/png;base64,/g)).toHaveLength(2);
    expect(page).toContain('alt="A dial"');
    expect(page).not.toContain("<as found>");
    const inside = pdfInside(await DRAWINGS["report.pdf"](pictures(3)));
    const images = ofType(inside, "XObject").filter((object) => /\/Subtype \/Image/.test(object.dictionary));
    expect(images).toHaveLength(2);
    for (const { dictionary } of images) expect(dictionary).not.toContain("/SMask");
    expect(pageTexts(inside).join(" ")).toContain("What the film showed");
  });

  it("is found changed where another picture was put in its place", async () => {
    const one = record(pictures(3));
    const swapped = { ...one, inputs: { ...one.inputs, picturesText: pictures(5) } };
    const { lines } = await checkRecord("report.html", html(swapped), means);
    expect(lines).toContainEqual({
      what: "pictures.json",
      state: "changed",
      detail: "not those that the result names",
    });
  });
});

describe("a record of a film without its pictures", () => {
  it("is found changed as a report, and is none the worse as a result", async () => {
    const one = record(pictures(3));
    const without = { ...one, inputs: { ...one.inputs, picturesText: null } };
    const lines = (await checkRecord("report.pdf", await pdf(without), means)).lines;
    expect(lines).toContainEqual({
      what: "pictures.json",
      state: "changed",
      detail: "the report carries it no more",
    });
    const result = await checkRecord("result.json", new TextEncoder().encode(one.resultText), means);
    expect(result.lines.find(({ what }) => what === "pictures.json")!.state).toBe("not checked");
  });
});

describe("readPictures()", () => {
  it("refuses what is no list of PNG pictures", () => {
    expect(readPictures(pictures(3))).toHaveLength(2);
    for (const wrong of ["", "{}", '{"pictures":[{"title":"a"}]}', pictures(3).replace(/"png": "./, '"png": "A')])
      expect(readPictures(wrong), wrong.slice(0, 40)).toBeNull();
  });
});
