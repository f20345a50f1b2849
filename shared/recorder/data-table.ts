import type { DigitalLine } from './channel-lines.ts';
import type { Faults } from './file-fault.ts';
import type { DigitalChannel } from './recording.ts';

/** A data file as it lies there: nothing scaled, nothing timed. */
export interface DataTable {
  readonly rows: number;
  /** counts of the time stamp; NaN: missing */
  readonly stamps: Float64Array;
  /** as stored, one column a channel; NaN: missing */
  readonly analog: readonly Float64Array[];
  readonly digital: readonly DigitalChannel[];
}

/** Most channels that one file may hold: beyond, it is refused rather than half read. */
export const MOST_CHANNELS = 2_000;
/** Most values: short rows of text may make more of them than their bytes tell. */
export const MOST_VALUES = 12_000_000;
/** Most changes kept of one digital channel: one that chatters more tells nothing. */
const MOST_CHANGES = 10_000;

/** Follows one digital channel from row to row. */
export class DigitalColumn {
  readonly #line: DigitalLine;
  readonly #changes: number[] = [];
  #first: 0 | 1 | null = null;
  #now: 0 | 1 = 0;

  constructor(line: DigitalLine) {
    this.#line = line;
  }

  see(row: number, state: 0 | 1): void {
    if (this.#first === null) this.#first = state;
    else if (state !== this.#now && this.#changes.length < MOST_CHANGES) this.#changes.push(row);
    this.#now = state;
  }

  finish(): DigitalChannel {
    const { name, normally } = this.#line;
    return { name, normally, first: this.#first ?? 0, changes: this.#changes };
  }
}

/** Rows are numbered 1, 2, 3, …; some recorders begin at 0, some leave gaps. Their order in the file holds. */
export class RowNumbers {
  readonly #faults: Faults;
  #first: number | null = null;

  constructor(faults: Faults) {
    this.#faults = faults;
  }

  see(row: number, number: number | null): void {
    if (row === 0 && number !== null && number !== 1) {
      this.#first = number;
      this.#faults.add('first-number', `The data number their rows from ${number}, not from 1.`);
    }
    if (number === null || number !== (this.#first ?? 1) + row)
      this.#faults.add(
        'sample-numbers',
        `Row ${row + 1} of the data is numbered “${number ?? 'nothing'}”; rows were taken in the order in which they stand.`,
      );
  }
}
