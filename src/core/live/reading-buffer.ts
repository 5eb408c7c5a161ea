import type { CurrentSeries, Recording } from "../series/recording.js";

/** Width of the blocks whose means are kept beside the readings, seconds. */
const BLOCK_S = 0.1;

/** A series that grows at its end; earlier views of it stay as they are. */
class GrowingSeries {
  private values = new Float64Array(1024);
  private used = 0;

  append(more: Float64Array): void {
    const needed = this.used + more.length;
    if (needed > this.values.length) {
      const larger = new Float64Array(Math.max(needed, 2 * this.values.length));
      larger.set(this.values.subarray(0, this.used));
      this.values = larger;
    }
    this.values.set(more, this.used);
    this.used = needed;
  }

  get view(): Float64Array {
    return this.values.subarray(0, this.used);
  }
}

/** Readings as they come, block by block, and their means over tenths of a second. */
export class ReadingBuffer {
  private readonly times = new GrowingSeries();
  private readonly voltages = new GrowingSeries();
  private readonly uncertainties = new GrowingSeries();
  private readonly asides = new GrowingSeries();
  private readonly currentTimes = new GrowingSeries();
  private readonly currents = new GrowingSeries();
  private readonly blockTimesS: number[] = [];
  private readonly blockMeansV: number[] = [];
  private blockCount = 0;
  private openBlock = 0;
  private originS = 0;

  constructor(private readonly clockResolutionS: number | undefined) {}

  /**
   * Adds readings to the end.
   *
   * @throws RangeError where times go back, a reading is not finite, or the series differ in length
   */
  append(block: Recording): void {
    this.check(block);
    this.times.append(block.timesS);
    this.voltages.append(block.voltagesV);
    if (block.readingUncertaintiesV !== undefined) this.uncertainties.append(block.readingUncertaintiesV);
    if (block.asidesV !== undefined) this.asides.append(block.asidesV);
    if (block.current !== undefined) {
      this.currentTimes.append(block.current.timesS);
      this.currents.append(block.current.currentsA);
    }
    for (let i = 0; i < block.timesS.length; i++) this.addToBlock(block.timesS[i], block.voltagesV[i]);
  }

  /** Everything so far as one recording. */
  recording(): Recording {
    const { view: timesS } = this.times;
    const { view: readingUncertaintiesV } = this.uncertainties;
    const { view: asidesV } = this.asides;
    const current: CurrentSeries = { timesS: this.currentTimes.view, currentsA: this.currents.view };
    return {
      timesS,
      voltagesV: this.voltages.view,
      ...(current.timesS.length > 0 ? { current } : {}),
      ...(readingUncertaintiesV.length > 0 ? { readingUncertaintiesV } : {}),
      ...(asidesV.length > 0 ? { asidesV } : {}),
      ...(this.clockResolutionS === undefined ? {} : { clockResolutionS: this.clockResolutionS }),
    };
  }

  get hasCurrent(): boolean {
    return this.currents.view.length > 0;
  }

  /** Means of the readings within each tenth of a second; times are the means of theirs. */
  get blocks(): { readonly timesS: readonly number[]; readonly meansV: readonly number[] } {
    return { timesS: this.blockTimesS, meansV: this.blockMeansV };
  }

  private addToBlock(timeS: number, voltageV: number): void {
    const last = this.blockTimesS.length - 1;
    if (last < 0) this.originS = timeS;
    const block = Math.floor((timeS - this.originS) / BLOCK_S);
    if (last < 0 || block !== this.openBlock) {
      this.openBlock = block;
      this.blockCount = 1;
      this.blockTimesS.push(timeS);
      this.blockMeansV.push(voltageV);
      return;
    }
    this.blockCount += 1;
    this.blockTimesS[last] += (timeS - this.blockTimesS[last]) / this.blockCount;
    this.blockMeansV[last] += (voltageV - this.blockMeansV[last]) / this.blockCount;
  }

  private check({ timesS, voltagesV, current, readingUncertaintiesV, asidesV }: Recording): void {
    sameLength("voltages", timesS, voltagesV);
    ascending("times", timesS, this.times.view.at(-1));
    finite("voltages", voltagesV);
    if (current !== undefined) {
      sameLength("currents", current.timesS, current.currentsA);
      ascending("times of the current", current.timesS, this.currentTimes.view.at(-1));
      finite("currents", current.currentsA);
    }
    if (asidesV !== undefined) {
      sameLength("numbers of a needle aside", timesS, asidesV);
      finite("numbers of a needle aside", asidesV);
    }
    if (this.times.view.length > 0 && timesS.length > 0 && this.asides.view.length > 0 !== (asidesV !== undefined)) {
      throw new RangeError("Cannot add readings: either every block tells how a needle may lie aside or none does");
    }
    const told = this.uncertainties.view.length > 0;
    if (readingUncertaintiesV !== undefined) sameLength("uncertainties", timesS, readingUncertaintiesV);
    if (this.times.view.length > 0 && timesS.length > 0 && told !== (readingUncertaintiesV !== undefined)) {
      throw new RangeError("Cannot add readings: either every block tells its readings' uncertainties or none does");
    }
  }
}

function sameLength(what: string, timesS: Float64Array, values: Float64Array): void {
  if (values.length !== timesS.length) {
    throw new RangeError(`Cannot add readings: ${timesS.length} times need as many ${what}, got ${values.length}`);
  }
}

function ascending(what: string, timesS: Float64Array, lastS: number | undefined): void {
  let previous = lastS ?? Number.NEGATIVE_INFINITY;
  finite(what, timesS);
  for (const timeS of timesS) {
    if (timeS < previous)
      throw new RangeError(`Cannot add readings: ${what} must not go back, got ${timeS} after ${previous}`);
    previous = timeS;
  }
}

function finite(what: string, values: Float64Array): void {
  const bad = values.findIndex((value) => !Number.isFinite(value));
  if (bad >= 0) throw new RangeError(`Cannot add readings: ${what} must be finite, got ${values[bad]}`);
}
