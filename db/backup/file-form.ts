import { createHash } from 'node:crypto';
import type { Numbering, Sequence } from './tables.ts';

/**
 * The form of a backup, before it is compressed: lines of text. The first tells of the whole, then parts follow, each a line
 * that names a table, its rows as PostgreSQL's COPY writes text (a row a line), a line `\.`, and a line with the count of
 * rows and their SHA-256. The last line says that it is whole; a file without it was cut short.
 */
export interface FileHead {
  readonly holds: 'holdoff-backup';
  readonly version: 1;
  /** the numbers of the migrations that its schema has had */
  readonly migrations: readonly number[];
  readonly madeAt: string;
  readonly program: string;
}

export interface PartHead {
  readonly table: string;
  readonly columns: readonly string[];
  /** rows of stretches that changed while they were being read: they take the place of those that came before */
  readonly again?: true;
  readonly numbering?: readonly Numbering[];
  /** of samples: the weeks that they lie in, by their beginnings, in microseconds since 1970 */
  readonly weeks?: readonly number[];
}

export interface PartEnd {
  readonly table: string;
  readonly rows: number;
  readonly sha256: string;
}

export interface FileEnd {
  readonly whole: true;
  readonly parts: number;
  readonly rows: number;
  readonly sequences: readonly Sequence[];
}

export const lineOf = (value: FileHead | PartHead | PartEnd | FileEnd): Buffer =>
  Buffer.from(`${JSON.stringify(value)}\n`);

const NEWLINE = 10;
/** Between rows and what follows: no row is this, for COPY doubles a backslash. */
export const ROWS_END = Buffer.from('\\.\n');

export function countRows(chunk: Buffer): number {
  let rows = 0;
  for (let at = chunk.indexOf(NEWLINE); at >= 0; at = chunk.indexOf(NEWLINE, at + 1)) rows++;
  return rows;
}

/** Counts rows and takes their digest as they go by. */
export class Tally {
  readonly #hash = createHash('sha256');
  #rows = 0;

  add(chunk: Buffer): void {
    this.#hash.update(chunk);
    this.#rows += countRows(chunk);
  }

  get rows(): number {
    return this.#rows;
  }

  end(table: string): PartEnd {
    return { table, rows: this.#rows, sha256: this.#hash.digest('hex') };
  }
}

/** No line of ours is longer; a longer one means that the file is something else. */
const LONGEST_LINE = 1024 * 1024;

/** Reads lines, and stretches of rows between them, from chunks that fall anywhere. */
export class PartReader {
  readonly #chunks: AsyncIterator<Buffer>;
  #held: Buffer = Buffer.alloc(0);

  constructor(chunks: AsyncIterable<Buffer>) {
    this.#chunks = chunks[Symbol.asyncIterator]();
  }

  /** The next line without its end; null: nothing follows. */
  async line(): Promise<string | null> {
    for (;;) {
      const at = this.#held.indexOf(NEWLINE);
      if (at >= 0) {
        const line = this.#held.toString('utf8', 0, at);
        this.#held = this.#held.subarray(at + 1);
        return line;
      }
      if (this.#held.length > LONGEST_LINE) throw new Error('It isn’t a backup: a line has no end.');
      if (!(await this.#more())) return null;
    }
  }

  /** Rows up to their end, which is taken away. */
  async *rows(): AsyncGenerator<Buffer> {
    let atLineStart = true;
    for (;;) {
      const end = endOfRows(this.#held, atLineStart);
      if (end !== null) {
        const rows = this.#held.subarray(0, end);
        this.#held = this.#held.subarray(end + ROWS_END.length);
        if (rows.length > 0) yield rows;
        return;
      }
      const sure = this.#held.lastIndexOf(NEWLINE) + 1;
      if (sure > 0) {
        const rows = this.#held.subarray(0, sure);
        this.#held = this.#held.subarray(sure);
        atLineStart = true;
        yield rows;
      }
      if (!(await this.#more())) throw new Error(CUT_SHORT);
    }
  }

  async #more(): Promise<boolean> {
    const next = await this.#chunks.next();
    if (next.done === true) return false;
    this.#held = this.#held.length === 0 ? next.value : Buffer.concat([this.#held, next.value]);
    return true;
  }
}

export const CUT_SHORT = 'The file ends too early: it was cut short. Take another backup.';

const AFTER_ROW = Buffer.concat([Buffer.from('\n'), ROWS_END]);

function endOfRows(held: Buffer, atLineStart: boolean): number | null {
  if (atLineStart && held.subarray(0, ROWS_END.length).equals(ROWS_END)) return 0;
  const at = held.indexOf(AFTER_ROW);
  return at < 0 ? null : at + 1;
}
