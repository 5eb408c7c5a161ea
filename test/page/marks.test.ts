import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it, vi } from "vitest";
import { runBusdip, samplesFolder } from "../cli/run-busdip.js";
import { pageAtWork } from "./page-at-work.js";
import { chooseAll, judge } from "./page-steps.js";
import { PHONE } from "./real-browser.js";

const LOG = join(samplesFolder, "ice-2-noisy.csv");
const PROFILE = join(samplesFolder, "ice-2.profile.yaml");

vi.setConfig({ testTimeout: 240_000, hookTimeout: 120_000 });

const atWork = pageAtWork();

function marksFile(...rows: string[]): string {
  const path = join(atWork.folder, "marks.csv");
  writeFileSync(path, `time_s,load,action\n${rows.join("\n")}\n`);
  return path;
}

/** What the command line says of the same marks. */
function said(marks: string): string {
  const { stdout, stderr } = runBusdip(["analyze", LOG, "--profile", PROFILE, "--marks", marks]);
  return `${stdout}${stderr}`.replace(/\s+/g, " ");
}

describe("marks in the page", () => {
  it.for([
    ["all outside the recording", ["90020,landing-light,on", "90025,landing-light,off"]],
    ["of offs alone", ["20,landing-light,off", "25,landing-light,off"]],
  ] as const)("are refused in the words of the command line, but for its options: %s", async ([_, rows]) => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    const marks = marksFile(...rows);
    await chooseAll(page, LOG, PROFILE, marks);
    await page.getByRole("button", { name: "Judge the dips" }).click();
    const alert = page.locator(".decide [role=alert]");
    await alert.waitFor();
    const sentence = (await alert.textContent())!;
    expect(sentence).toMatch(/^(all 2 marks, from 90020 s to 90025 s, lie outside|no mark within the recording says)/);
    expect(said(marks)).toContain(`busdip: ${sentence.replace(/\.$/, "")}`);
    expect(await page.locator("#answer").count()).toBe(0);
    await context.close();
  });

  it("that were left out are told below the answer, in the words of the command line", async () => {
    const context = await atWork.device(PHONE);
    const page = await atWork.startPage(context);
    const marks = marksFile("20,landing-light,on", "25,landing-light,off", "90020,landing-light,on");
    await chooseAll(page, LOG, PROFILE, marks);
    await judge(page);
    const sentence = "The mark at 90020 s for Landing light was left out: it lies outside the recording.";
    await page.locator(".note", { hasText: sentence }).waitFor();
    expect(said(marks)).toContain(sentence);
    await context.close();
  });
});
