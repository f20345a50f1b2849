import type { Rate } from './rates.ts';
import type { KindTally, SetupTally } from './tally.ts';

/** Sums and words that the page and its targets share. */
export type Scores = ReadonlyMap<string, SetupTally>;

export const sum = (tally: SetupTally, of: (kind: KindTally) => number): number =>
  [...tally.kinds.values()].reduce((total, kind) => total + of(kind), 0);

export const found = (kind: KindTally): number => kind.certain + kind.probable;
const lost = (kind: KindTally): number => kind.missed + kind.onlyPossible;
const invented = (kind: KindTally): number => kind.falseCertain + kind.falseProbable;

export const share = (rate: Rate | null): string => (rate ? rate.value.toFixed(4) : '–');
export const withInterval = (rate: Rate | null): string =>
  rate ? `${rate.value.toFixed(4)} (${rate.low.toFixed(4)}–${rate.high.toFixed(4)})` : '–';

export function countsOf(kinds: readonly KindTally[]) {
  const all = (of: (kind: KindTally) => number) => kinds.reduce((total, kind) => total + of(kind), 0);
  return {
    truePositives: all(found),
    falseNegatives: all(lost),
    falsePositives: all(invented),
    trueNegatives: 0,
  };
}

export function table(head: readonly string[], rows: readonly (readonly (string | number)[])[]): string[] {
  return [
    `| ${head.join(' | ')} |`,
    `| ${head.map((_, i) => (i === 0 ? '---' : '---:')).join(' | ')} |`,
    ...rows.map((row) => `| ${row.join(' | ')} |`),
  ];
}
