/**
 * A sound for new alarms while this list is open: off until somebody presses for it, which browsers ask for as well, and off
 * again with the next load. Two short tones for what is critical, one for the rest; made here, nothing is fetched.
 */
const TONE_SECONDS = 0.18;
const APART_SECONDS = 0.26;
const HERTZ = 880;
const LOUDNESS = 0.2;

class Sound {
  on = $state(false);
  #context: AudioContext | null = null;

  toggle(): void {
    this.on = !this.on;
    if (!this.on) return;
    this.#context ??= new AudioContext();
    void this.#context.resume();
    this.#tones(1);
  }

  /** Something nobody has acknowledged has come. */
  announce(isCritical: boolean): void {
    if (this.on) this.#tones(isCritical ? 2 : 1);
  }

  #tones(count: number): void {
    const context = this.#context;
    if (!context) return;
    for (let n = 0; n < count; n++) {
      const at = context.currentTime + n * APART_SECONDS;
      const tone = context.createOscillator();
      const volume = context.createGain();
      tone.frequency.value = HERTZ;
      // no click at its ends
      volume.gain.setValueAtTime(0, at);
      volume.gain.linearRampToValueAtTime(LOUDNESS, at + 0.02);
      volume.gain.setValueAtTime(LOUDNESS, at + TONE_SECONDS - 0.02);
      volume.gain.linearRampToValueAtTime(0, at + TONE_SECONDS);
      tone.connect(volume).connect(context.destination);
      tone.start(at);
      tone.stop(at + TONE_SECONDS);
    }
  }
}
export const sound = new Sound();
