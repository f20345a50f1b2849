import type { FieldValue } from './metric.ts';

/** Data types of Sparkplug 3.0 (section 6.4.16) that one value of a point can have. */
const INTEGERS: Readonly<Record<number, { readonly bits: number; readonly signed: boolean }>> = {
  1: { bits: 8, signed: true },
  2: { bits: 16, signed: true },
  3: { bits: 32, signed: true },
  4: { bits: 64, signed: true },
  5: { bits: 8, signed: false },
  6: { bits: 16, signed: false },
  7: { bits: 32, signed: false },
  8: { bits: 64, signed: false },
  /** DateTime: Unix ms */
  13: { bits: 64, signed: false },
};
const FLOAT = 9;
const DOUBLE = 10;
const BOOLEAN = 11;
/** String, Text, UUID */
const TEXTS = [12, 14, 15];
/** DataSet, Bytes, File, Template, property sets, and the arrays of every type */
const isMany = (type: number): boolean => type >= 16 && type <= 34;

export type TypedValue =
  | { readonly ok: true; readonly value: number | boolean | string }
  | { readonly ok: false; readonly reason: 'sparkplug-type' | 'value-not-known' };

/** A metric's value by its type: integers have their sign, and whatever doesn't fit its type is no value. */
export function typedValue(type: number, given: FieldValue | null): TypedValue {
  if (isMany(type) || given?.field === 'other') return { ok: false, reason: 'sparkplug-type' };
  const value = given === null ? null : valueOf(type, given);
  return value === null ? { ok: false, reason: 'value-not-known' } : { ok: true, value };
}

function valueOf(
  type: number,
  given: Exclude<FieldValue, { field: 'other' }>,
): number | boolean | string | null {
  const integer = INTEGERS[type];
  if (integer) return integerOf(given, integer.bits, integer.signed);
  if (type === FLOAT && given.field === 'float') return given.value;
  if (type === DOUBLE && (given.field === 'double' || given.field === 'float')) return given.value;
  if (type === BOOLEAN && given.field === 'boolean') return given.value;
  return TEXTS.includes(type) && given.field === 'string' ? given.value : null;
}

/**
 * Encoders send a negative number as the two's complement of its own width, or of the 32 or 64 bits of the field: both are
 * the same number. What lies outside the type's range under either reading is none.
 */
function integerOf(given: FieldValue, bits: number, signed: boolean): number | null {
  if (given.field !== 'int' && given.field !== 'long') return null;
  const sent = BigInt(given.value);
  if (!signed) return sent === BigInt.asUintN(bits, sent) ? Number(sent) : null;
  const value = BigInt.asIntN(bits, sent);
  return [bits, 32, 64].some((width) => BigInt.asUintN(width, value) === sent) ? Number(value) : null;
}

/** Quality codes (tck-id-payloads-propertyset-quality-value-value) as words; null: no such code. */
export function qualityWordOf(code: number | null): 'good' | 'bad' | null {
  if (code === null || code === 192) return 'good';
  return code === 0 || code === 500 ? 'bad' : null;
}
