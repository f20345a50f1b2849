import { CHECK_IDS, type CheckId } from './checks.ts';

/**
 * What somebody found (handbook 8): what the control showed before power was broken, the cause, what was done, parts,
 * readings with their measures. A reading that can't be is refused with what to do: mostly it is the measure that is wrong.
 */
export interface Findings {
  /** what the control itself showed; `null`: it wasn't looked at, or shows nothing */
  readonly shown: string | null;
  /** one of the checks, something else, or nothing that was found */
  readonly cause: FoundCause;
  /** in words of one's own */
  readonly causeSays: string | null;
  readonly action: string;
  readonly parts: readonly string[];
  readonly readings: readonly Reading[];
}

export const FOUND_CAUSES = [...CHECK_IDS, 'other', 'not-found'] as const;
export type FoundCause = CheckId | 'other' | 'not-found';

export interface Reading {
  readonly of: ReadingKind;
  readonly value: number;
  readonly measure: Measure;
}

/** How many of the first measure of its kind one of it is, and what is added: °F and K need both. */
const MEASURES = {
  psi: { per: 1, plus: 0 },
  kPa: { per: 0.1450377, plus: 0 },
  bar: { per: 14.50377, plus: 0 },
  '°C': { per: 1, plus: 0 },
  '°F': { per: 5 / 9, plus: -160 / 9 },
  K: { per: 1, plus: 0 },
  '°F difference': { per: 5 / 9, plus: 0 },
  V: { per: 1, plus: 0 },
  A: { per: 1, plus: 0 },
  µF: { per: 1, plus: 0 },
  kg: { per: 1, plus: 0 },
  lb: { per: 0.45359237, plus: 0 },
} as const;
export type Measure = keyof typeof MEASURES;
export const READING_MEASURES = Object.keys(MEASURES) as Measure[];

interface ReadingRow {
  readonly name: string;
  readonly measures: readonly Measure[];
  /** in the first of its measures; what lies outside can't be [from memory] */
  readonly range: readonly [least: number, most: number];
}

const PRESSURE = ['psi', 'kPa', 'bar'] as const;
const TEMPERATURE = ['°C', '°F'] as const;
const DIFFERENCE = ['K', '°F difference'] as const;

const READINGS = {
  'suction-pressure': { name: 'suction pressure', measures: PRESSURE, range: [-14.7, 300] },
  'discharge-pressure': { name: 'discharge pressure', measures: PRESSURE, range: [0, 800] },
  superheat: { name: 'superheat', measures: DIFFERENCE, range: [-20, 80] },
  subcooling: { name: 'subcooling', measures: DIFFERENCE, range: [-20, 60] },
  'line-voltage': { name: 'line voltage', measures: ['V'], range: [0, 660] },
  'control-voltage': { name: 'control voltage', measures: ['V'], range: [0, 60] },
  'compressor-current': { name: 'compressor current', measures: ['A'], range: [0, 300] },
  'fan-current': { name: 'fan current', measures: ['A'], range: [0, 60] },
  capacitance: { name: 'capacitance', measures: ['µF'], range: [0, 500] },
  'supply-air': { name: 'supply air', measures: TEMPERATURE, range: [-30, 80] },
  'return-air': { name: 'return air', measures: TEMPERATURE, range: [-20, 70] },
  outdoors: { name: 'outdoors', measures: TEMPERATURE, range: [-60, 65] },
  'refrigerant-added': { name: 'refrigerant added', measures: ['kg', 'lb'], range: [0, 20] },
  'refrigerant-recovered': { name: 'refrigerant recovered', measures: ['kg', 'lb'], range: [0, 20] },
} as const satisfies Record<string, ReadingRow>;

export type ReadingKind = keyof typeof READINGS;
export const READING_KINDS = Object.keys(READINGS) as ReadingKind[];
export const readingRow = (kind: ReadingKind): ReadingRow => READINGS[kind];

export interface FindingsFault {
  /** JSON Pointer */
  readonly pointer: string;
  readonly message: string;
}

/** Everything that is wrong; empty: it can be kept. */
export function findingsFaults({ cause, causeSays, readings }: Findings): FindingsFault[] {
  const untold =
    cause === 'other' && !causeSays?.trim()
      ? [{ pointer: '/causeSays', message: 'Say what the cause was.' }]
      : [];
  return [...untold, ...readings.flatMap((reading, n) => readingFault(reading, `/readings/${n}`))];
}

function readingFault({ of, value, measure }: Reading, pointer: string): FindingsFault[] {
  const { name, measures, range } = readingRow(of);
  if (!measures.includes(measure))
    return [
      {
        pointer: `${pointer}/measure`,
        message: `${capital(name)} isn’t read in ${measure}: give ${measures.join(' or ')}.`,
      },
    ];
  const { per, plus } = MEASURES[measure];
  const converted = value * per + plus;
  if (converted >= range[0] && converted <= range[1]) return [];
  const bound = (end: number): number => Math.round(((end - plus) / per) * 10) / 10;
  return [
    {
      pointer: `${pointer}/value`,
      message: `${capital(name)} of ${value} ${measure} can’t be (${bound(range[0])} to ${bound(range[1])} ${measure}): look at the measure and the point.`,
    },
  ];
}

const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);
