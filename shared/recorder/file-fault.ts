/**
 * What is wrong with a recorder's file. Each fault has a code, a sentence for whoever took the file in, and one of two
 * weights: `survived` (read all the same, and what was done instead is said) or `refused` (nothing can be made of it).
 */
const FILE_FAULTS = {
  'no-configuration': 'refused',
  'no-data': 'refused',
  'too-large': 'refused',
  'not-text': 'refused',
  'no-channels': 'refused',
  'no-sampling': 'refused',
  'layout-unknown': 'refused',
  'code-page': 'survived',
  'revision-unknown': 'survived',
  'blank-lines': 'survived',
  'channel-count': 'survived',
  'channel-line': 'survived',
  'frequency-missing': 'survived',
  'rate-count': 'survived',
  'sample-count': 'survived',
  'start-time': 'survived',
  'trigger-time': 'survived',
  'date-order': 'survived',
  'format-missing': 'survived',
  'format-other': 'survived',
  'time-multiplier': 'survived',
  'time-zone': 'survived',
  'stamps-missing': 'survived',
  'stamps-backward': 'survived',
  'stamps-differ': 'survived',
  'skew-empty': 'survived',
  'first-number': 'survived',
  'sample-numbers': 'survived',
  'no-rate': 'survived',
  'data-line': 'survived',
  'values-missing': 'survived',
  'bytes-left': 'survived',
  'length-differs': 'survived',
} as const satisfies Record<string, 'refused' | 'survived'>;

export type FaultCode = keyof typeof FILE_FAULTS;

export interface FileFault {
  readonly code: FaultCode;
  readonly says: string;
}

/** Gathers faults: each code once, with how often it came up where that is more than once. */
export class Faults {
  readonly #found = new Map<FaultCode, { says: string; times: number }>();

  add(code: FaultCode, says: string): void {
    const known = this.#found.get(code);
    if (known) known.times++;
    else this.#found.set(code, { says, times: 1 });
  }

  get refused(): boolean {
    return [...this.#found.keys()].some((code) => FILE_FAULTS[code] === 'refused');
  }

  list(): FileFault[] {
    return [...this.#found].map(([code, { says, times }]) => ({
      code,
      says: times === 1 ? says : `${says} (${times} times)`,
    }));
  }
}
