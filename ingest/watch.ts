import type { WatchMark } from '../db/watch-marks.ts';
import { SECOND } from '../shared/base/instant.ts';
import type { Moment } from './clock.ts';
import type { Committer } from './committer.ts';

/**
 * Watch marks: "subscribed, and everything received from `from` to `to` is committed" (architecture 4). A mark goes
 * through the same queue as the messages, so when it is written, everything received before it is too.
 *
 * No more is claimed than has passed: a clock that is set ahead, or a machine that slept, ends the stretch where it would
 * have ended without, and begins another.
 */
export class Watch {
  readonly #committer: Committer;
  readonly #ingest: string;
  /** since when this stretch of listening lasts, and its last mark; null: not listening */
  #stretch: { readonly from: Moment; readonly last: Moment } | null = null;

  constructor(committer: Committer, ingest: string) {
    this.#committer = committer;
    this.#ingest = ingest;
  }

  /** Listening from now on. */
  begin(from: Moment): void {
    this.#stretch = { from, last: from };
  }

  /** No longer: what was listened to without a mark stays unmarked. */
  end(): void {
    this.#stretch = null;
  }

  /** Everything sent to us up to `to` has been received, or (`isGap`) not: comes back when the mark is written. */
  async mark(to: Moment, more: Pick<WatchMark, 'heardIn' | 'isGap' | 'lease'> = {}): Promise<void> {
    if (this.#stretch === null) return;
    const { from, last } = this.#stretch;
    const due = last.at + (to.passed - last.passed);
    const isSetBack = to.at < from.at;
    const isSetAhead = to.at - due > MOST_AHEAD;
    this.#stretch = { from: isSetBack || isSetAhead ? to : from, last: to };
    const mark = isSetAhead ? { from: from.at, to: due } : { from: this.#stretch.from.at, to: to.at };
    await this.#committer.addMark({ ingest: this.#ingest, ...mark, ...more });
  }
}

/** Between two marks: a clock that is steered a little faster gains far less. */
const MOST_AHEAD = SECOND;
