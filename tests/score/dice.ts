/** Seeded chance: the same seed gives the same history, so that any failure can be run again. */
export interface Dice {
  /** evenly in [low, high) */
  between(low: number, high: number): number;
  /** true with this probability */
  chance(share: number): boolean;
  pick<T>(all: readonly T[]): T;
  /** small and large alike: evenly in the logarithm */
  spread(low: number, high: number): number;
}

/** A 32-bit generator by multiplication and shifts (the mulberry32 recurrence, public domain). */
export function dice(seed: number): Dice {
  let state = (seed * 2_654_435_761) >>> 0;
  const next = (): number => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296;
  };
  const between = (low: number, high: number): number => low + next() * (high - low);
  return {
    between,
    chance: (share) => next() < share,
    pick: (all) => all[Math.floor(next() * all.length)]!,
    spread: (low, high) => Math.exp(between(Math.log(low), Math.log(high))),
  };
}
