/** The beat one can hear: a short tick in each of the last three seconds, a rising tone for on, a falling one for off. */
export class BeatSound {
  readonly #context = new AudioContext();

  /** Must follow a touch, or browsers keep silent. */
  async wake(): Promise<void> {
    await this.#context.resume().catch(() => {});
  }

  tick(): void {
    this.#tone([660], 0.05, 0.25);
  }

  on(): void {
    this.#tone([660, 990], 0.16, 0.6);
    navigator.vibrate?.(250);
  }

  off(): void {
    this.#tone([660, 440], 0.16, 0.6);
    navigator.vibrate?.([90, 80, 90]);
  }

  close(): void {
    void this.#context.close();
  }

  #tone(frequenciesHz: readonly number[], eachS: number, loudness: number): void {
    const gain = this.#context.createGain();
    gain.connect(this.#context.destination);
    const startS = this.#context.currentTime;
    const endS = startS + eachS * frequenciesHz.length;
    // A sound that sets in at once would itself be heard as the click of a switch.
    gain.gain.setValueAtTime(0, startS);
    gain.gain.linearRampToValueAtTime(loudness, startS + 0.015);
    gain.gain.setValueAtTime(loudness, endS - 0.02);
    gain.gain.linearRampToValueAtTime(0, endS);
    const source = this.#context.createOscillator();
    frequenciesHz.forEach((frequencyHz, i) => {
      source.frequency.setValueAtTime(frequencyHz, startS + i * eachS);
    });
    source.connect(gain);
    source.start(startS);
    source.stop(endS);
  }
}
