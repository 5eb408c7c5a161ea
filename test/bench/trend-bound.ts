/** What an observer may know who serves as a bound: all but the level and the noise itself. */
export interface BoundKnowledge {
  readonly phi: number;
  readonly baselineFlights: number;
  /** Ramp from the first flight after the baseline, scatters per flight. */
  readonly slope: number;
}

/**
 * Sequential log likelihood ratio of the very ramp that happens against none, with the scatter, the correlation and the
 * moment of change known and only the level unknown (flat prior): no chart that must learn these can call it sooner at
 * the same rate of false calls, but for the sequential test's own slack.
 */
export function likelihoodRatio(knowledge: BoundKnowledge): (record: Float64Array) => Float64Array {
  const { phi, baselineFlights, slope } = knowledge;
  const innovation = Math.sqrt(1 - phi * phi);
  return (record) => {
    const trace = new Float64Array(record.length - baselineFlights);
    let levelLevel = 0;
    let levelReading = 0;
    let levelRamp = 0;
    let rampRamp = 0;
    let rampReading = 0;
    for (let index = 0; index < record.length; index++) {
      const level = index === 0 ? 1 : (1 - phi) / innovation;
      const reading = index === 0 ? record[0] : (record[index] - phi * record[index - 1]) / innovation;
      levelLevel += level * level;
      levelReading += level * reading;
      const since = index - baselineFlights + 1;
      if (since < 1) continue;
      const ramp = (since - phi * (since - 1)) / innovation;
      levelRamp += level * ramp;
      rampRamp += ramp * ramp;
      rampReading += ramp * reading;
      const score = rampReading - (levelRamp * levelReading) / levelLevel;
      const information = rampRamp - levelRamp ** 2 / levelLevel;
      trace[since - 1] = slope * score - 0.5 * slope ** 2 * information;
    }
    return trace;
  };
}
