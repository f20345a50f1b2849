import type { WatchMark } from '../db/watch-marks.ts';
import type { Instant } from '../shared/base/instant.ts';
import type { Committer } from './committer.ts';

/**
 * Watch marks: "subscribed, and everything received from `from` to `to` is committed" (architecture 4). A mark goes
 * through the same queue as the messages, so when it is written, everything received before it is too.
 */
export class Watch {
  readonly #committer: Committer;
  readonly #ingest: string;
  /** since when this stretch of listening lasts; null: not listening */
  #from: Instant | null = null;

  constructor(committer: Committer, ingest: string) {
    this.#committer = committer;
    this.#ingest = ingest;
  }

  /** Listening from now on. */
  begin(at: Instant): void {
    this.#from = at;
  }

  /** No longer: what was listened to without a mark stays unmarked. */
  end(): void {
    this.#from = null;
  }

  /** Everything sent to us up to `to` has been received, or (`isGap`) not: comes back when the mark is written. */
  async mark(to: Instant, more: Pick<WatchMark, 'heardIn' | 'isGap' | 'lease'> = {}): Promise<void> {
    if (this.#from === null) return;
    if (to < this.#from) this.#from = to; // our clock was set back: a stretch of its own from here
    await this.#committer.addMark({ ingest: this.#ingest, from: this.#from, to, ...more });
  }
}
