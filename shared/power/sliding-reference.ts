import type { RmsStep } from './detect.ts';

/**
 * A sliding reference in the place of the declared voltage [IEC 61000-4-30, 5.4.4; figures from memory]: a first-order
 * filter with a time constant of a minute, fed with the RMS of 10 cycles (50 Hz) or 12 (60 Hz), and standing still while
 * an excursion lasts: Usr(n) = 0.9967 · Usr(n − 1) + 0.0033 · U(n). A block that an excursion has touched isn't used.
 * The RMS of a block is taken from its Urms(1/2) values, two a cycle.
 */
export interface SlidingReference {
  /** per unit of declared voltage, by channel; 1 until told otherwise */
  readonly levels: Record<string, number>;
  /** Urms(1/2) values a block */
  readonly block: number;
  /** of the block under way: sum of squares by channel, and how many steps */
  readonly squares: Record<string, number>;
  steps: number;
}

const KEPT = 0.9967;
const TAKEN = 0.0033;

export const newSlidingReference = (
  frequency: 50 | 60,
  levels: Record<string, number> = {},
): SlidingReference => ({
  levels: { ...levels },
  block: frequency === 50 ? 20 : 24,
  squares: {},
  steps: 0,
});

/** The value per unit of the reference. */
export const besideReference = (
  sliding: SlidingReference | null,
  channel: string,
  declared: number,
): number => (sliding ? declared / (sliding.levels[channel] ?? 1) : declared);

/** Takes one half cycle's values of every channel. */
export function noteStep(sliding: SlidingReference, step: RmsStep, isOut: boolean): void {
  if (isOut) {
    restart(sliding);
    return;
  }
  for (const channel in step)
    sliding.squares[channel] = (sliding.squares[channel] ?? 0) + step[channel]! ** 2;
  if (++sliding.steps < sliding.block) return;
  for (const channel in sliding.squares) {
    const rms = Math.sqrt(sliding.squares[channel]! / sliding.steps);
    sliding.levels[channel] = KEPT * (sliding.levels[channel] ?? 1) + TAKEN * rms;
  }
  restart(sliding);
}

function restart(sliding: SlidingReference): void {
  sliding.steps = 0;
  for (const channel in sliding.squares) sliding.squares[channel] = 0;
}
