import { BAD, GOOD, UNCERTAIN } from '../../shared/telemetry/sample.ts';

/** Text values of a contact, in any case (contract 1.1). */
const WORDS: Readonly<Record<string, number>> = {
  on: 1,
  closed: 1,
  true: 1,
  active: 1,
  '1': 1,
  off: 0,
  open: 0,
  false: 0,
  inactive: 0,
  '0': 0,
};

/** A raw value as a number; null: not one. Words and booleans are for contacts alone. Never NaN, never infinite, never -0. */
export function parseValue(given: unknown, kind: 'contact' | 'analog'): number | null {
  if (typeof given === 'number') return Number.isFinite(given) ? given + 0 : null;
  if (kind === 'analog') return null;
  if (typeof given === 'boolean') return given ? 1 : 0;
  if (typeof given !== 'string') return null;
  const word = given.toLowerCase();
  return Object.hasOwn(WORDS, word) ? WORDS[word]! : null;
}

const QUALITIES: Readonly<Record<string, number>> = { good: GOOD, uncertain: UNCERTAIN, bad: BAD };

/** A quality word as its level; not given is good; null: no such word. */
export function parseQuality(given: unknown): number | null {
  if (given === undefined || given === null) return GOOD;
  return typeof given === 'string' && Object.hasOwn(QUALITIES, given) ? QUALITIES[given]! : null;
}
