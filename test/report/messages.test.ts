import { describe, expect, it } from "vitest";
import {
  type Assumption,
  type Caution,
  type LoadAnswer,
  type UnknownReason,
  type VerdictReason,
  type Warning,
  wholeBus,
} from "../../src/core/index.js";
import {
  assumptionText,
  cautionText,
  shortCautionText,
  unknownReasonText,
  warningText,
} from "../../src/report/messages.js";
import { headline, nextSteps, verdictReasonText } from "../../src/report/verdict-words.js";
import { depthOnlyAnalysis, emptyAnalysis, hostileAnalysis, hostileNames, ice2Analysis } from "./analysis-fixtures.js";

type OneOfEach<Note extends { code: string }> = { [Code in Note["code"]]: Extract<Note, { code: Code }> };

const assumptions: OneOfEach<Assumption> = {
  "lag-from-profile": { code: "lag-from-profile", lagS: 0.25 },
  "lag-searched": { code: "lag-searched", lagS: 0.31 },
  "needle-swings": { code: "needle-swings", frequencyHz: 2.2, dampingRatio: 0.65 },
  "switching-from-marks": { code: "switching-from-marks", markCount: 6, jitterS: 0.2 },
  "switching-from-current": { code: "switching-from-current", stepCount: 1 },
  "switching-searched": { code: "switching-searched" },
  "load-by-elimination": { code: "load-by-elimination", load: "probe" },
  "load-by-current": { code: "load-by-current", load: "probe", currentA: 5.4 },
  "load-not-told": { code: "load-not-told", dipCount: 3 },
  "sharers-ranked": {
    code: "sharers-ranked",
    load: "probe",
    ranked: [
      { loads: ["probe", "light"], probability: 0.93 },
      { loads: ["light"], probability: 0.05 },
    ],
  },
  "load-ranked": {
    code: "load-ranked",
    load: "switched-load",
    ranked: [
      { load: "probe", probability: 0.93 },
      { load: "lamp", probability: 0.02 },
    ],
  },
  "mark-ignored": { code: "mark-ignored", timeS: 12.5, load: "probe", why: "off-without-on" },
  "block-means": { code: "block-means", blockS: 0.05, readingCount: 1200 },
  "copies-left-out": { code: "copies-left-out", copies: 20, readingCount: 75 },
  "outliers-left-out": { code: "outliers-left-out", outlierCount: 1 },
  "friction-untold": { code: "friction-untold" },
  "display-step": { code: "display-step", quantumV: 0.1 },
  "interval-likelihood": { code: "interval-likelihood", quantumV: 0.1, sigmaV: 0.021 },
  "settling-seen": { code: "settling-seen", load: "probe", timeConstantS: 1.8 },
  "reference-tolerance": { code: "reference-tolerance", load: "probe", fraction: 0.05 },
  "current-uncertainty": { code: "current-uncertainty", uA: 0.1 },
  "discharge-sign": { code: "discharge-sign", sign: -1 },
  "charge-steps-left-out": { code: "charge-steps-left-out", stepCount: 2 },
  "path-resistance-unknown": { code: "path-resistance-unknown" },
  "path-resistance-from-profile": { code: "path-resistance-from-profile", valueOhm: 0.003, uOhm: 0.0005 },
  "resistance-at": { code: "resistance-at", atS: 10 },
  "settled-after-lag": { code: "settled-after-lag", atS: 0.8 },
  "not-identifiable": { code: "not-identifiable", what: "current", load: "probe", why: "no-current-reference" },
  "meter-follows-at-once": { code: "meter-follows-at-once" },
  "normalized-to": {
    code: "normalized-to",
    temperatureC: -12,
    uTemperatureC: 2,
    referenceC: 20,
    stateOfCharge: 0.9,
    fittedCoefficients: false,
  },
  "bus-current": { code: "bus-current", currentA: 22.5, uA: 0.4, baseMeasured: false, loadCount: 6 },
  "endurance-model": { code: "endurance-model", derateLow: 0.6, derateHigh: 0.8 },
};

const warnings: OneOfEach<Warning> = {
  gap: { code: "gap", startS: 74, endS: 78 },
  "bus-unpowered": { code: "bus-unpowered", stretchCount: 2, totalS: 7.2, endS: 5.1 },
  "readings-held": { code: "readings-held", stretchCount: 3, longestS: 6, totalS: 17.5 },
  "meter-at-end": { code: "meter-at-end", atV: 24.1 },
  gaps: { code: "gaps", gapCount: 3, totalS: 130 },
  "noise-not-stationary": { code: "noise-not-stationary", ratio: 2.34 },
  "source-regulated": { code: "source-regulated", meanV: 28.1, limitV: 26.4 },
  "quantized-below-digit": { code: "quantized-below-digit", quantumV: 0.1 },
  "few-readings": { code: "few-readings", readingCount: 2 },
  "dips-disagree": { code: "dips-disagree", load: "probe", ratio: 4.1 },
  "dip-without-mark": { code: "dip-without-mark", onsetS: 33.2 },
  "voltage-near-limit": { code: "voltage-near-limit", lowestV: 21.07 },
  "polarization-in-depth": { code: "polarization-in-depth", load: "probe" },
  "marks-off": { code: "marks-off", load: "probe", laterS: -1.2 },
  "stray-release": { code: "stray-release", load: "probe", onsetS: 33, markedS: 38, seenS: 35.2, lasting: false },
  "profile-contradicted": { code: "profile-contradicted", load: "probe", what: "kind-and-lag" },
  "nothing-dips": { code: "nothing-dips" },
  "shared-switch": { code: "shared-switch", loads: ["probe", "light"] },
  "current-outside-acceptable": {
    code: "current-outside-acceptable",
    load: "probe",
    currentA: 2.1,
    uA: 0.2,
    limitA: 4,
  },
  "resistance-contradicted": {
    code: "resistance-contradicted",
    foundOhm: 0.138,
    uFoundOhm: 0.005,
    knownOhm: 0.0125,
    uKnownOhm: 0.0016,
  },
  "overlapping-loads": { code: "overlapping-loads", loads: ["probe", "light"] },
};

const reasons: Record<VerdictReason, true> = {
  "above-critical": true,
  "excludes-acceptable": true,
  "too-noisy": true,
  "no-expected-depth": true,
  between: true,
  "wrong-direction": true,
  "dips-disagree": true,
  "not-as-marked": true,
  "marks-off": true,
  "dips-beside-marks": true,
  "one-step": true,
  "maybe-wander": true,
  "dips-unfit": true,
  "rhythm-goes-on": true,
  "source-regulated": true,
  "never-switched": true,
  "shows-itself": true,
  "load-not-told": true,
  "display-too-coarse": true,
  "meter-at-end": true,
  "friction-untold": true,
  "movement-doubtful": true,
  "source-not-shown": true,
};

const unknownReasons: Record<UnknownReason, true> = {
  "marks-off": true,
  "no-current-reference": true,
  "reference-did-not-respond": true,
  "load-did-not-respond": true,
  "reference-too-weak": true,
  "no-current-step": true,
  "not-sampled-together": true,
  "sampled-too-slowly": true,
  "source-is-regulated": true,
  "no-battery-data": true,
  "no-capacity": true,
  "no-chemistry": true,
  "no-bus-current": true,
  "no-temperature": true,
  "no-switching": true,
  "below-one-digit": true,
  "meter-at-end": true,
  "path-unknown": true,
  "below-path": true,
  "polarization-too-fast": true,
  "polarization-too-slow": true,
  "polarization-too-faint": true,
  "resistance-unknown": true,
};

const cautions: Record<Caution, true> = {
  advisory: true,
  "hot-probe": true,
  "battery-falls": true,
  "current-not-heat": true,
  "ni-cd-temperature": true,
};

const reasonCodes = Object.keys(reasons) as VerdictReason[];
const nameOf = (id: string) => `the ${id}`;

describe("every code has its sentence", () => {
  it.each([
    ...Object.values(assumptions).map((note) => [note.code, assumptionText(note, nameOf)]),
    ...Object.values(warnings).map((note) => [note.code, warningText(note, nameOf)]),
    ...(Object.keys(cautions) as Caution[]).flatMap((code) => [
      [code, cautionText(code)],
      [`${code} in short`, shortCautionText(code)],
    ]),
    ...reasonCodes.map((because) => [because, verdictReasonText({ ...ice2Analysis.loads[2]!, because })]),
  ])("%s: a full sentence without code words", (_, sentence) => {
    expect(sentence).toMatch(/^[\p{Lu}\d]|^the /u);
    expect(sentence).toMatch(/\.$/);
    expect(sentence).not.toMatch(/undefined|null|NaN|\[object/);
  });

  it("no two sentences are the same", () => {
    const sentences = [
      ...Object.values(assumptions).map((note) => assumptionText(note)),
      ...Object.values(warnings).map((note) => warningText(note)),
      ...(Object.keys(unknownReasons) as UnknownReason[]).map(unknownReasonText),
      ...reasonCodes.map((because) => verdictReasonText({ ...ice2Analysis.loads[2]!, because })),
    ];
    expect(new Set(sentences).size).toBe(sentences.length);
  });

  it("assumptionText() names the load, not its id, and the figures with their units", () => {
    expect(assumptionText(assumptions["mark-ignored"], nameOf)).toBe(
      "The mark at 12.5 s for the probe was left out: the load is turned off without having been turned on.",
    );
    expect(assumptionText(assumptions["interval-likelihood"])).toContain("100 mV");
    expect(assumptionText(assumptions["outliers-left-out"])).toBe(
      "1 reading far from the neighbours was left out as outliers.",
    );
  });

  it("warningText() says what to do", () => {
    const verbs = /Repeat|Find|Take|Use|Record|Add|Stop|Compare|Switch/;
    for (const warning of Object.values(warnings)) expect(warningText(warning)).toMatch(verbs);
  });
});

describe("headline()", () => {
  it("puts the silent load first", () => {
    expect(headline(ice2Analysis)).toBe(
      "No response from Probe heat B. Undecided: Stall-vane heat. Probe heat A and Landing light responded.",
    );
  });

  it("does not claim verdicts where no load is named", () => {
    expect(headline(depthOnlyAnalysis)).toBe("3 voltage dips found; no loads were named, so none is judged.");
  });
});

describe("nextSteps()", () => {
  it("never asks to switch a load on again that fell off by itself before the cause is found", () => {
    const fell = { code: "stray-release", load: "probe", onsetS: 33, markedS: 38, seenS: 35.2, lasting: true } as const;
    const open = { ...ice2Analysis.loads[0]!, id: "probe", name: "Probe", verdict: "undecided" as const };
    for (const because of ["not-as-marked", "dips-disagree"] as const) {
      const strayed = { ...open, because, moreSwitchings: 3 };
      const [step] = nextSteps({ ...ice2Analysis, loads: [strayed], warnings: [fell] });
      expect(step).toMatch(/^Probe: find out why .* before it is switched on again/);
    }
  });

  it("speaks of no mark that nobody made: a load whose off is missing is to be marked", () => {
    const fell = {
      code: "stray-release",
      load: "probe",
      onsetS: 33,
      markedS: null,
      seenS: 38,
      lasting: false,
    } as const;
    expect(warningText(fell)).toBe(
      "No mark says when probe, switched on at 33 s, went off; the voltage came back at 38 s, and it is counted as on until then. Find out when it was switched off, and mark it.",
    );
    const open = { ...ice2Analysis.loads[0]!, id: "probe", name: "Probe", verdict: "undecided" as const };
    const strayed = { ...open, because: "not-as-marked" as const, moreSwitchings: null };
    expect(nextSteps({ ...ice2Analysis, loads: [strayed], warnings: [fell] })).toEqual([
      "Probe: mark when it went off, and judge again.",
    ]);
  });

  it("asks for a check of the silent load, then for the further switchings with their beat", () => {
    expect(nextSteps(ice2Analysis)).toEqual([
      "Probe heat B: have switch, breaker, wiring and element checked as the approved maintenance manual says; do not count on it until then.",
      "Stall-vane heat: switch it 4 more times, 5 s on, 5 s off, and judge all of them together.",
    ]);
  });

  it("never answers an undecided load with nothing to do", () => {
    for (const because of reasonCodes) {
      const open: LoadAnswer = { ...ice2Analysis.loads[2]!, because, moreSwitchings: null };
      expect(nextSteps({ ...ice2Analysis, loads: [open] })[0]).not.toBe("Nothing more to switch.");
    }
  });

  it("advises a better meter instead of hundreds of switchings", () => {
    const open: LoadAnswer = { ...ice2Analysis.loads[2]!, moreSwitchings: 400 };
    expect(nextSteps({ ...ice2Analysis, loads: [open] })[0]).toContain("finer meter");
  });

  it("says that endurance falls short of what is required", () => {
    const battery = { ...ice2Analysis.battery, requiredEnduranceMin: 60 };
    expect(nextSteps({ ...ice2Analysis, battery }).join(" ")).toContain("falls short of the required 60 min");
    const near = { ...ice2Analysis.battery, requiredEnduranceMin: 45 };
    expect(nextSteps({ ...ice2Analysis, battery: near }).join(" ")).toContain("may fall short of the required 45 min");
  });

  it("asks to switch a load that was never switched", () => {
    expect(headline(emptyAnalysis)).toBe("No switching seen of Probe heat A.");
    expect(nextSteps(emptyAnalysis)).toEqual([
      "To judge Probe heat A: switch it three times, 5 s on, 5 s off, and record again; the plan says whether this meter can show it.",
    ]);
    const two = [emptyAnalysis.loads[0]!, { ...emptyAnalysis.loads[0]!, id: "light", name: "Light" }];
    expect(nextSteps({ ...emptyAnalysis, loads: two })).toEqual([
      "To judge Probe heat A and Light: switch each three times, 5 s on, 5 s off, and record again; the plan says whether this meter can show them.",
    ]);
  });

  it("does not ask again for what the ticked run sheet accounts for, and says what follows from it", () => {
    const plain = { ...emptyAnalysis.loads[0]!, because: "shows-itself" as const };
    const loads = ["horn", "lamp", "fan"].map((id) => ({ ...plain, id, name: id }));
    const analysis = { ...emptyAnalysis, loads };
    expect(nextSteps(analysis)).toEqual(["horn, lamp and fan are seen or heard: account for them on the run sheet."]);
    const tick = { when: null, by: null, note: null };
    const profile = {
      loads: loads.map(({ id }) => ({ id, kind: "resistive" as const, shows: "seen" as const, reference: false })),
    };
    const bus = wholeBus(profile, analysis, [
      { ...tick, load: "horn", found: "heard" },
      { ...tick, load: "lamp", found: "not" },
    ]);
    expect(nextSteps(analysis, bus)).toEqual([
      "lamp: looked for and not found; have it checked as the approved maintenance manual says; do not count on it until then.",
      "fan is seen or heard: account for it on the run sheet.",
    ]);
    const responded = {
      ...loads[0]!,
      verdict: "responded" as const,
      because: "above-critical" as const,
      switchingCount: 3,
    };
    const judged = { ...analysis, loads: [responded] };
    const [step] = nextSteps(judged, wholeBus(profile, judged, [{ ...tick, load: "horn", found: "not" }]));
    expect(step).toBe("horn: meter and person contradict each other; repeat both, and do not count on it until then.");
  });

  it("prints hostile names as one harmless line", () => {
    const text = [headline(hostileAnalysis), ...nextSteps(hostileAnalysis)].join("");
    expect(text).not.toMatch(/[\p{Cc}\u202a-\u202e]/u);
    expect(text).not.toContain(hostileNames.long.trim());
  });
});
