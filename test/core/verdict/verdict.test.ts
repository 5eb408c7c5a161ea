import { describe, expect, it } from "vitest";
import { type Evidence, judge } from "../../../src/core/verdict/verdict.js";

/** A silent load in a recording that would have shown it. */
const silent: Evidence = {
  pValue: 0.4,
  falseAlarmRate: 0.01,
  depthV: 0.002,
  upperDepthV: 0.015,
  minimumDetectableDepthV: 0.02,
  displayShareV: 0,
  expectedDepthV: 0.05,
  switchingCount: 3,
  frozen: false,
  besideMarksV: 0,
  isClear: true,
  indistinct: false,
  switchingUntold: false,
  strayed: false,
  marksOff: false,
  besideOwnMarks: false,
  switchingsDisagree: false,
  maybeOneStep: false,
  maybeWander: false,
  unfit: false,
  rhythmGoesOn: false,
  sourceRegulated: false,
  atEnd: false,
  frictionUntold: false,
  movementDoubtful: false,
  sourceNotShown: false,
};

const verdictOf = (changed: Partial<Evidence>) => {
  const { verdict, because } = judge({ ...silent, ...changed });
  return `${verdict}: ${because}`;
};

/** Every combination of what the rule hangs on, on both sides of each limit. */
function everyCombination(): Evidence[] {
  const choices: { [K in keyof Evidence]?: readonly Evidence[K][] } = {
    pValue: [0.001, 0.01, 0.0101, 0.5],
    depthV: [-0.05, 0, 0.01, 0.06],
    upperDepthV: [-0.01, 0, 0.0499, 0.05, 0.08],
    minimumDetectableDepthV: [0.02, 0.05, 0.0501, 1],
    expectedDepthV: [null, 0.05],
    besideMarksV: [0, 0.025, 0.0251],
    indistinct: [false, true],
    switchingUntold: [false, true],
    strayed: [false, true],
    switchingsDisagree: [false, true],
    rhythmGoesOn: [false, true],
    sourceRegulated: [false, true],
    atEnd: [false, true],
    frictionUntold: [false, true],
  };
  return Object.entries(choices).reduce<Evidence[]>(
    (all, [key, values]) => all.flatMap((one) => values.map((value) => ({ ...one, [key]: value }))),
    [silent],
  );
}

describe("judge()", () => {
  it.each([
    ["a clear response", { pValue: 0.001, depthV: 0.05 }, "responded: above-critical"],
    ["a p-value at the rate itself", { pValue: 0.01, depthV: 0.02 }, "responded: above-critical"],
    [
      "a response where no dip is expected",
      { pValue: 0.001, depthV: 0.05, expectedDepthV: null },
      "responded: above-critical",
    ],
    ["a response fainter than expected", { pValue: 0.001, depthV: 0.01 }, "responded: above-critical"],
    [
      "a response from switchings that disagree",
      { pValue: 0.001, switchingsDisagree: true },
      "undecided: dips-disagree",
    ],
    ["a response far from its marks", { pValue: 1e-9, marksOff: true }, "undecided: marks-off"],
    [
      "a response whose edges lie off its marks",
      { pValue: 1e-9, besideOwnMarks: true },
      "undecided: dips-beside-marks",
    ],
    ["silence at marks that dips go beside", { marksOff: true }, "undecided: marks-off"],
    ["a response of a load that fell off for good", { pValue: 1e-9, strayed: true }, "undecided: not-as-marked"],
    ["silence of a load that fell off for good", { strayed: true }, "undecided: not-as-marked"],
    ["a rise of the voltage", { pValue: 0.001, depthV: -0.05, upperDepthV: -0.03 }, "undecided: wrong-direction"],
    ["silence of a meter at its end", { atEnd: true }, "undecided: meter-at-end"],
    [
      "a response whose rhythm goes on by itself",
      { pValue: 0.001, depthV: 0.05, rhythmGoesOn: true },
      "undecided: rhythm-goes-on",
    ],
    ["a response that may be wander", { pValue: 1e-9, depthV: 0.05, maybeWander: true }, "undecided: maybe-wander"],
    ["a response that may be one step", { pValue: 1e-9, depthV: 0.05, maybeOneStep: true }, "undecided: one-step"],
    [
      "dips that nobody marked and that do not fit",
      { pValue: 1e-9, depthV: 0.05, unfit: true },
      "undecided: dips-unfit",
    ],
    ["silence of a needle whose friction is not told", { frictionUntold: true }, "undecided: friction-untold"],
    ["a dip that may be all gain", { movementDoubtful: true, depthV: 0.05 }, "undecided: movement-doubtful"],
    ["silence that a doubtful gain may have made", { movementDoubtful: true }, "undecided: movement-doubtful"],
    ["silence on a bus that nothing moves", { sourceNotShown: true }, "undecided: source-not-shown"],
    [
      "a response on a bus whose level stands still",
      { pValue: 0.001, depthV: 0.05, sourceNotShown: true },
      "responded: above-critical",
    ],
    ["silence in a recording that would have shown it", {}, "no response: excludes-acceptable"],
    [
      "a minimum detectable value equal to the expected dip",
      { minimumDetectableDepthV: 0.05 },
      "no response: excludes-acceptable",
    ],
    ["silence where nobody knows what to expect", { expectedDepthV: null }, "undecided: no-expected-depth"],
    ["silence in too much noise", { minimumDetectableDepthV: 0.06 }, "undecided: too-noisy"],
    [
      "silence on a display that is too coarse",
      { minimumDetectableDepthV: 0.09, displayShareV: 0.06 },
      "undecided: display-too-coarse",
    ],
    ["a depth whose upper bound reaches the expected dip", { upperDepthV: 0.05 }, "undecided: between"],
    [
      "a response on a regulated bus",
      { pValue: 1e-9, depthV: 0.1, sourceRegulated: true },
      "undecided: source-regulated",
    ],
    ["a dip beside the marks as deep as half the expected one", { besideMarksV: 0.03 }, "undecided: dips-beside-marks"],
    [
      "a faint response with dips half as deep beside the marks",
      { pValue: 1e-5, depthV: 0.05, besideMarksV: 0.0251, isClear: false },
      "undecided: dips-beside-marks",
    ],
    [
      "a faint response with shallower dips beside the marks",
      { pValue: 1e-5, depthV: 0.05, besideMarksV: 0.025, isClear: false },
      "responded: above-critical",
    ],
    [
      "a response with other dips beside the marks",
      { pValue: 1e-5, depthV: 0.05, besideMarksV: 0.05 },
      "responded: above-critical",
    ],
    [
      "a response that another load shares",
      { pValue: 1e-9, depthV: 0.1, indistinct: true },
      "undecided: load-not-told",
    ],
    ["silence of a load that nobody may have switched", { switchingUntold: true }, "undecided: never-switched"],
    ["silence on a regulated bus", { sourceRegulated: true }, "undecided: source-regulated"],
  ] as const)("%s", (_name, changed, expected) => {
    expect(verdictOf(changed)).toBe(expected);
  });

  it("says no response only where the minimum detectable value and the upper bound allow it, whatever else", () => {
    const wrong: string[] = [];
    for (const evidence of everyCombination()) {
      const { pValue, depthV, upperDepthV, minimumDetectableDepthV, expectedDepthV, besideMarksV } = evidence;
      const judgeable = !evidence.sourceRegulated && !evidence.indistinct && !evidence.strayed;
      const shows = pValue <= 0.01 && depthV > 0;
      const rises = upperDepthV < 0;
      const couldShow =
        expectedDepthV !== null && minimumDetectableDepthV <= expectedDepthV && upperDepthV < expectedDepthV;
      const elsewhere = expectedDepthV !== null && besideMarksV > expectedDepthV / 2;
      const mayAffirm = judgeable && shows && !evidence.switchingsDisagree && !evidence.rhythmGoesOn;
      const mayDeny =
        judgeable &&
        couldShow &&
        !shows &&
        !elsewhere &&
        !rises &&
        !evidence.switchingUntold &&
        !evidence.atEnd &&
        !evidence.frictionUntold;
      const expected = mayAffirm ? "responded" : mayDeny ? "no response" : "undecided";
      if (judge(evidence).verdict !== expected) wrong.push(`${expected}: ${JSON.stringify(evidence)}`);
    }
    expect(wrong).toEqual([]);
  });

  it("more noise never turns undecided into no response", () => {
    for (const upperDepthV of [0.01, 0.03, 0.05, 0.07]) {
      let denied = true;
      for (let factor = 1; factor < 4; factor += 0.1) {
        const now =
          judge({ ...silent, upperDepthV: upperDepthV * factor, minimumDetectableDepthV: 0.02 * factor }).verdict ===
          "no response";
        expect(now && !denied, `factor ${factor}`).toBe(false);
        denied = now;
      }
    }
  });

  it("asks for as many switchings as shrink the minimum detectable value to the expected dip", () => {
    // Twice too noisy: four times the switchings, so nine more than three.
    expect(judge({ ...silent, minimumDetectableDepthV: 0.1 }).moreSwitchings).toBe(9);
    expect(judge({ ...silent, minimumDetectableDepthV: 0.0501 }).moreSwitchings).toBe(1);
    expect(judge({ ...silent, minimumDetectableDepthV: 0.0707, switchingCount: 5 }).moreSwitchings).toBe(5);
  });

  it("names no number where more switchings would not settle it", () => {
    expect(judge({ ...silent, minimumDetectableDepthV: 5 }).moreSwitchings).toBeNull();
    expect(judge({ ...silent, minimumDetectableDepthV: Number.POSITIVE_INFINITY }).moreSwitchings).toBeNull();
    expect(judge({ ...silent, minimumDetectableDepthV: 0.09, displayShareV: 0.06 }).moreSwitchings).toBeNull();
    expect(judge({ ...silent, sourceRegulated: true }).moreSwitchings).toBeNull();
    expect(judge({ ...silent, strayed: true }).moreSwitchings).toBeNull();
    expect(judge(silent).moreSwitchings).toBeNull();
    expect(judge({ ...silent, expectedDepthV: null, depthV: -0.01 }).moreSwitchings).toBeNull();
  });

  it("without an expected dip asks for what would make the depth seen so far detectable", () => {
    const { moreSwitchings } = judge({ ...silent, expectedDepthV: null, depthV: 0.01 });
    expect(moreSwitchings).toBe(9);
  });

  it("never asks for less than one more switching, nor for none where it asks", () => {
    for (const minimumDetectableDepthV of [0.0500001, 0.06, 0.1, 0.2]) {
      const { moreSwitchings } = judge({ ...silent, minimumDetectableDepthV });
      expect(moreSwitchings).toBeGreaterThanOrEqual(1);
    }
  });

  it("says how many switchings more would do: n ((MDV / wanted)^2 - 1), rounded up, and nothing beyond sixty", () => {
    const more = (changed: Partial<Evidence>) => judge({ ...silent, ...changed }).moreSwitchings;
    // 3 (2^2 - 1) = 9; 5 (1.5^2 - 1) = 6.25; 20 x 3 = 60; 21 x 3 = 63.
    expect(more({ minimumDetectableDepthV: 0.1 })).toBe(9);
    expect(more({ minimumDetectableDepthV: 0.075, switchingCount: 5 })).toBe(7);
    expect(more({ minimumDetectableDepthV: 0.1, switchingCount: 20 })).toBe(60);
    expect(more({ minimumDetectableDepthV: 0.1, switchingCount: 21 })).toBeNull();
    // A depth beyond what is detectable: one more is the least that can be asked for.
    expect(more({ expectedDepthV: null, depthV: 0.03 })).toBe(1);
    expect(more({ expectedDepthV: null, depthV: 0.02 })).toBe(1);
    expect(more({ expectedDepthV: null, depthV: 0 })).toBeNull();
    expect(more({ expectedDepthV: null, depthV: -0.01 })).toBeNull();
  });

  it("asks for no switchings where they settle nothing, and for as many again where they disagree", () => {
    const more = (changed: Partial<Evidence>) => judge({ ...silent, ...changed }).moreSwitchings;
    for (const changed of [
      { pValue: 0 },
      { sourceRegulated: true },
      { frozen: true },
      { indistinct: true },
      { strayed: true },
      { pValue: 0, rhythmGoesOn: true },
      { pValue: 0, unfit: true },
      { atEnd: true },
      { upperDepthV: -0.001 },
      { switchingUntold: true },
      { minimumDetectableDepthV: 0.09, displayShareV: 0.06 },
      { frictionUntold: true },
      {},
    ])
      expect(more(changed), JSON.stringify(changed)).toBeNull();
    expect(more({ pValue: 0, switchingsDisagree: true, switchingCount: 5 })).toBe(5);
    expect(more({ pValue: 0, switchingsDisagree: true, switchingCount: 1 })).toBe(2);
    expect(more({ pValue: 0, maybeOneStep: true, switchingCount: 1 })).toBe(2);
    expect(more({ pValue: 0, maybeOneStep: true, switchingCount: 3 })).toBe(3);
    // More of what nobody marks settles nothing where the level wanders.
    expect(more({ pValue: 0, maybeWander: true, switchingCount: 3 })).toBeNull();
    expect(more({ besideMarksV: 0.03, switchingCount: 4 })).toBe(4);
    expect(more({ upperDepthV: 0.06, switchingCount: 4 })).toBe(4);
    expect(more({ upperDepthV: 0.06, switchingCount: 0 })).toBe(1);
  });

  it("blames the display only where its share alone exceeds eight tenths of the expected dip", () => {
    const coarse = (displayShareV: number) =>
      verdictOf({ expectedDepthV: 0.5, minimumDetectableDepthV: 0.6, displayShareV });
    expect(coarse(0.4)).toBe("undecided: too-noisy");
    expect(coarse(0.41)).toBe("undecided: display-too-coarse");
  });

  it("names the reason that must be dealt with first", () => {
    const order = [
      ["sourceRegulated", "source-regulated"],
      ["frozen", "display-too-coarse"],
      ["indistinct", "load-not-told"],
      ["marksOff", "marks-off"],
      ["strayed", "not-as-marked"],
      ["atEnd", "meter-at-end"],
      ["switchingUntold", "never-switched"],
      ["frictionUntold", "friction-untold"],
    ] as const;
    order.forEach(([, reason], k) => {
      const all = Object.fromEntries(order.slice(k).map(([flag]) => [flag, true]));
      expect(judge({ ...silent, ...all }).because).toBe(reason);
    });
  });
});
