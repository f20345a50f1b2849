import type { Faults } from './file-fault.ts';
import { fieldsOf, numberOf } from './text.ts';

/**
 * One analog channel's line: number, name, phase, circuit, measure, a, b, skew, least, greatest, and from 1999 primary,
 * secondary, P or S [IEEE C37.111, configuration file, "analog channel information"].
 */
export interface AnalogLine {
  readonly name: string;
  readonly phase: string;
  readonly measure: string;
  readonly multiplier: number;
  readonly offset: number;
  readonly skewSeconds: number;
  readonly least: number;
  readonly greatest: number;
  readonly primary: number;
  readonly secondary: number;
  readonly side: 'primary' | 'secondary';
}

export interface DigitalLine {
  readonly name: string;
  readonly normally: 0 | 1;
}

const FIELDS = 13;

export function analogLine(line: string, place: number, faults: Faults): AnalogLine {
  const fields = joinedName(fieldsOf(line));
  const [, name = '', phase = '', , measure = '', a, b, skew, least, greatest, primary, secondary, side] =
    fields;
  const named = name === '' ? `Channel ${place + 1}` : name;
  const multiplier = numberOf(a);
  if (multiplier === null || numberOf(b) === null)
    faults.add(
      'channel-line',
      `Channel “${named}” has no scale that can be read (“${a ?? ''}”, “${b ?? ''}”); its values are as stored.`,
    );
  if (skew === '')
    faults.add('skew-empty', 'Channels have no skew written; they were taken as sampled at once.');
  return {
    name: named,
    phase,
    measure,
    multiplier: multiplier ?? 1,
    offset: numberOf(b) ?? 0,
    skewSeconds: (numberOf(skew) ?? 0) / 1e6,
    least: numberOf(least) ?? -Infinity,
    greatest: numberOf(greatest) ?? Infinity,
    primary: positive(primary),
    secondary: positive(secondary),
    side: (side ?? '').toUpperCase() === 'S' ? 'secondary' : 'primary',
  };
}

/** Commas inside a name make too many fields; those of the end are sure. */
function joinedName(fields: readonly string[]): readonly string[] {
  const over = fields.length - FIELDS;
  if (over <= 0 || !/^[ps]$/i.test(fields.at(-1)!)) return fields;
  return [fields[0]!, fields.slice(1, over + 2).join(','), ...fields.slice(over + 2)];
}

const positive = (field: string | undefined): number => {
  const value = numberOf(field);
  return value !== null && value > 0 ? value : 1;
};

/** One digital channel's line: number, name, (from 1999 phase and circuit,) the state that is normal. */
export function digitalLine(line: string, place: number): DigitalLine {
  const fields = fieldsOf(line);
  const name = fields[1] ?? '';
  return { name: name === '' ? `Contact ${place + 1}` : name, normally: fields.at(-1) === '1' ? 1 : 0 };
}
