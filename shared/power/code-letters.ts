import type { Bounds } from '../base/span.ts';
import { lockedRotorAmps } from './starting-dip.ts';

/**
 * Locked-rotor kVA per horsepower by the code letter of the nameplate [NEC (NFPA 70) Table 430.7(B)]. A letter stands for a
 * range; V has no upper end.
 */
export const CODE_LETTERS = {
  A: [0, 3.14],
  B: [3.15, 3.54],
  C: [3.55, 3.99],
  D: [4.0, 4.49],
  E: [4.5, 4.99],
  F: [5.0, 5.59],
  G: [5.6, 6.29],
  H: [6.3, 7.09],
  J: [7.1, 7.99],
  K: [8.0, 8.99],
  L: [9.0, 9.99],
  M: [10.0, 11.19],
  N: [11.2, 12.49],
  P: [12.5, 13.99],
  R: [14.0, 15.99],
  S: [16.0, 17.99],
  T: [18.0, 19.99],
  U: [20.0, 22.39],
  V: [22.4, Infinity],
} as const satisfies Readonly<Record<string, Bounds>>;

export type CodeLetter = keyof typeof CODE_LETTERS;

export const isCodeLetter = (text: string): text is CodeLetter => Object.hasOwn(CODE_LETTERS, text);

/** Locked-rotor amps that a code letter stands for, at the motor's rated voltage. */
export function ampsByCodeLetter(
  letter: CodeLetter,
  horsepower: number,
  { volts, phases }: { readonly volts: number; readonly phases: 1 | 3 },
): Bounds {
  const [low, high] = CODE_LETTERS[letter];
  return [lockedRotorAmps(horsepower, low, volts, phases), lockedRotorAmps(horsepower, high, volts, phases)];
}
