/**
 * One live region for the whole page. What is said replaces what waits, at most once in five seconds, so that a reader
 * who listens isn't flooded; countdowns are never announced.
 */
const APART_MS = 5_000;

class Announcer {
  text = $state('');
  #next: string | null = null;

  say(text: string): void {
    if (text === this.text && this.#next === null) return;
    const waits = this.#next !== null;
    this.#next = text;
    if (waits) return;
    setTimeout(() => {
      this.text = this.#next ?? this.text;
      this.#next = null;
    }, APART_MS);
  }

  /** For what the reader just asked for: at once. */
  answer(text: string): void {
    this.text = text;
  }
}
export const announcer = new Announcer();
