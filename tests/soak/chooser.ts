/** Chance that a seed brings back. */
export interface Chooser {
  /** a whole number, both ends included */
  between(least: number, most: number): number;
  one<T>(all: readonly T[]): T;
}

/** A 32-bit generator (mulberry32's constants), enough to choose faults by. */
export function chooserOf(seed: number): Chooser {
  let state = seed >>> 0;
  const next = (): number => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
  const between = (least: number, most: number) => least + Math.floor(next() * (most - least + 1));
  return { between, one: (all) => all[between(0, all.length - 1)]! };
}
