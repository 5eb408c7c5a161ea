/**
 * One timestamped series of bus voltage, with the current if it was measured.
 *
 * Times are seconds from the recording's own zero and never decrease; every reading is finite. The current stands on
 * its own time axis, because a clamp meter seldom samples at the voltmeter's moments; where both were read in the same
 * row the two axes may be the same array. The sign of the current is the file's own.
 */
export interface Recording {
  readonly timesS: Float64Array;
  readonly voltagesV: Float64Array;
  readonly current?: CurrentSeries;
  /** Standard uncertainty of each reading against its neighbours, where the instrument tells it (video). */
  readonly readingUncertaintiesV?: Float64Array;
  /**
   * What each reading would change by if the needle might also lie aside of its pivot, where the instrument tells it (video):
   * an eye that moves and a shadow that changes shift a needle along its whole length, the bus turns it.
   */
  readonly asidesV?: Float64Array;
  /**
   * Standard uncertainty of the gain that all voltage readings share, as a share of any change (0.004 is 0.4 %); absent
   * where the instrument tells none.
   */
  readonly gainUncertainty?: number;
  /** What the stamps of the log can tell apart, s; absent where that is not known. */
  readonly clockResolutionS?: number;
}

/** Readings of a current in amperes on their own time axis in seconds; same zero as the recording. */
export interface CurrentSeries {
  readonly timesS: Float64Array;
  readonly currentsA: Float64Array;
}

/** A load turned on or off at a known or heard time; `load` is null when nobody said which load it was. */
export interface SwitchingMark {
  readonly timeS: number;
  readonly load: string | null;
  readonly action: "on" | "off";
}
