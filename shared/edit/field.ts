import { same } from '../base/same.ts';

/**
 * One input of the site editor and what it holds: a field of a site's document as a person types it. The document itself is
 * what is edited; these turn one value into text and back. A text that isn't a value of its kind stays in the document as
 * that text, so that nothing typed is lost and the document's own check points at it.
 */
export interface Field {
  /** where in its part, as `['protection', 'offDelay']`; empty: the entry itself */
  readonly path: readonly string[];
  readonly label: string;
  readonly kind: 'line' | 'lines' | 'number' | 'choice' | 'ids';
  /** s, °C, V …: shown behind the input */
  readonly measure?: string;
  /** what may be chosen; beside a number, words that stand for no number: `none` for null */
  readonly choices?: readonly Choice[];
  /** what counts where nothing is given, said as “assumed …” */
  readonly assumed?: unknown;
  /** where a person finds the value, or what it decides */
  readonly help?: string;
  /** ids that may be named here */
  readonly names?: 'gateways' | 'spaces' | 'panels' | 'units';
  /** shown only for such an entry; one that is given shows all the same */
  readonly when?: (entry: Entry, device: EditedDevice) => boolean;
}

export interface Choice {
  readonly value: string | number | boolean | null;
  /** as it is typed and stored in forms */
  readonly word: string;
  readonly says: string;
}

/** A part of the document as JSON; what it holds may be wrong. */
export type Entry = Readonly<Record<string, unknown>>;

/** On what a point is wired. */
export type EditedDevice = 'site' | 'space' | 'panel' | 'unit';

export const choice = (value: Choice['value'], says: string, word = String(value)): Choice => ({
  value,
  word,
  says,
});
export const YES_NO = [choice(true, 'yes', 'yes'), choice(false, 'no', 'no')] as const;
export const NONE = (says: string): Choice => choice(null, says, 'none');

/** A value as it is typed; what isn't given is empty. */
export function textOf(field: Field, value: unknown): string {
  if (value === undefined) return '';
  const known = field.choices?.find((one) => one.value === value);
  if (known) return known.word;
  if (field.kind === 'ids' && isTexts(value)) return value.join(' ');
  return typeof value === 'string' || typeof value === 'number' ? String(value) : JSON.stringify(value);
}

/** What was typed as a value; undefined: not given. */
export function valueOf(field: Field, text: string): unknown {
  if (text === '') return undefined;
  const known = field.choices?.find(({ word }) => word === text);
  if (known) return known.value;
  if (field.kind === 'number' || isOfNumbers(field)) return numberIn(text);
  return field.kind === 'ids' ? text.split(/[\s,;]+/).filter(Boolean) : text;
}

/** A choice between numbers: what is none of them is still to be told as a number. */
const isOfNumbers = ({ kind, choices }: Field): boolean =>
  kind === 'choice' && typeof choices?.[0]?.value === 'number';

const NUMBER = /^\s*[+-]?(\d+([.,]\d*)?|[.,]\d+)(e[+-]?\d+)?\s*$/i;

/** A decimal comma is one. A text that is no number stays as it is. */
function numberIn(text: string): number | string {
  const value = NUMBER.test(text) ? Number(text.replace(',', '.')) : NaN;
  return Number.isFinite(value) ? value : text;
}

/** Is it one of the values that the input can show as they are meant. */
export const isShown = (field: Field, value: unknown): boolean =>
  value === undefined || same(valueOf(field, textOf(field, value)), value);

/** A value in words, with its measure; what isn't given, as it is assumed. */
export function valueWords(field: Field, value: unknown, entry: Entry = {}): string {
  if (value === undefined) {
    const assumed = assumedOf(field, entry);
    return assumed === undefined ? 'not recorded' : `assumed ${valueWords(field, assumed)}`;
  }
  const known = field.choices?.find((one) => one.value === value);
  if (known) return known.says;
  if (typeof value === 'number') return field.measure ? `${value} ${field.measure}` : String(value);
  const text = textOf(field, value);
  return text === '' ? 'empty' : `“${text}”`;
}

/** What counts where nothing is given; it may hang on the rest of its entry. */
export const assumedOf = (field: Field, entry: Entry): unknown =>
  typeof field.assumed === 'function' ? (field.assumed as (entry: Entry) => unknown)(entry) : field.assumed;

const isTexts = (value: unknown): value is readonly string[] =>
  Array.isArray(value) && value.every((one) => typeof one === 'string');
