/**
 * Which lines of a log are written and which only counted: of one kind of line a few a minute are written, the rest is told
 * as a number when the minute is over, so that a flood of rejects or of failed attempts can't fill a disk or hide what else
 * was said. Time is an argument, in ms.
 */
const MINUTE_MS = 60_000;
/** lines of one kind that are written within a minute */
export const LINES_A_MINUTE = 20;
/** kinds told apart at once; what is beyond them shares one */
export const KINDS_TOLD_APART = 500;
const OTHERS = 'others';

/** How many more lines there were of a kind, since `from`. */
export interface MoreLines<Told> {
  readonly told: Told;
  readonly more: number;
}

export class LogFlood<Told> {
  readonly #minutes = new Map<string, { readonly from: number; lines: number; told: Told }>();

  /** May this line be written? `told`: what to say of those that weren't; the newest is kept. */
  mayWrite(kind: string, at: number, told: Told): boolean {
    const isNew = !this.#minutes.has(kind);
    const key = isNew && this.#minutes.size >= KINDS_TOLD_APART ? OTHERS : kind;
    const minute = this.#minutes.get(key);
    if (!minute) {
      this.#minutes.set(key, { from: at, lines: 1, told });
      return true;
    }
    minute.lines++;
    minute.told = told;
    return minute.lines <= LINES_A_MINUTE;
  }

  /** Minutes that are over by `at`, as far as something wasn't written; they begin anew. */
  takeMore(at: number): MoreLines<Told>[] {
    const over: MoreLines<Told>[] = [];
    for (const [kind, { from, lines, told }] of this.#minutes) {
      if (at < from + MINUTE_MS && at >= from) continue;
      this.#minutes.delete(kind);
      if (lines > LINES_A_MINUTE) over.push({ told, more: lines - LINES_A_MINUTE });
    }
    return over;
  }
}
