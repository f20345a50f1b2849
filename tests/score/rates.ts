/** What a list of judgements comes to. Counts in; shares out, with 95 % intervals. */
export interface Counts {
  readonly truePositives: number;
  readonly falseNegatives: number;
  readonly falsePositives: number;
  readonly trueNegatives: number;
}

/** A share with its Wilson 95 % interval; null where there is nothing to share. */
export interface Rate {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

export interface Rates {
  readonly recall: Rate | null;
  readonly precision: Rate | null;
  readonly f1: number | null;
}

/** the 97.5 % point of the normal distribution */
const Z = 1.959964;

/** Wilson's score interval (E. B. Wilson, 1927): holds for shares near 0 and 1, where the plain one doesn't. */
export function wilson(hits: number, of: number): Rate | null {
  if (of === 0) return null;
  const value = hits / of;
  const z2 = (Z * Z) / of;
  const middle = (value + z2 / 2) / (1 + z2);
  const half = (Z / (1 + z2)) * Math.sqrt((value * (1 - value)) / of + z2 / (4 * of));
  return { value, low: Math.max(0, middle - half), high: Math.min(1, middle + half) };
}

export function ratesOf({ truePositives, falseNegatives, falsePositives }: Counts): Rates {
  const all = 2 * truePositives + falsePositives + falseNegatives;
  return {
    recall: wilson(truePositives, truePositives + falseNegatives),
    precision: wilson(truePositives, truePositives + falsePositives),
    f1: all === 0 ? null : (2 * truePositives) / all,
  };
}

/** With none in n, the true share is below 3/n with 95 % confidence (rule of three). */
export const ruleOfThree = (n: number): number | null => (n === 0 ? null : 3 / n);
