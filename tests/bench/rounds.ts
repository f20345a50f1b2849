/**
 * Repeats side by side: every round does each contender once, in turn, so that whatever the machine does meanwhile
 * touches all alike. What is told is the median, and always as a ratio.
 */
export interface Contender {
  readonly name: string;
  /** one run; answers how many a second */
  readonly run: () => Promise<number>;
}

export interface Figures {
  readonly name: string;
  readonly rates: readonly number[];
  readonly median: number;
}

export async function interleaved(
  rounds: number,
  contenders: readonly Contender[],
): Promise<Record<string, Figures>> {
  const rates = new Map<string, number[]>(contenders.map(({ name }) => [name, []]));
  for (let round = 0; round < rounds; round++) {
    // every other round goes backwards: nobody always follows the same neighbour
    const order = round % 2 === 0 ? contenders : contenders.toReversed();
    for (const { name, run } of order) rates.get(name)!.push(await run());
  }
  return Object.fromEntries(
    [...rates].map(([name, measured]) => [name, { name, rates: measured, median: medianOf(measured) }]),
  );
}

export function medianOf(values: readonly number[]): number {
  const sorted = values.toSorted((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}

/** How many a second, for so many in the time that the work takes. */
export async function rateOf(count: number, work: () => Promise<unknown> | unknown): Promise<number> {
  const started = performance.now();
  await work();
  return (count * 1000) / (performance.now() - started);
}
