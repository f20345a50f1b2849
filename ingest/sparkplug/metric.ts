import type { Reader } from 'protobufjs/minimal.js';

/** One metric of a payload, as it came: what it is called and what type it has may be its birth's to say. */
export interface Metric {
  readonly name: string | null;
  /** as text: 64 bits */
  readonly alias: string | null;
  /** Unix ms */
  readonly timestamp: number | null;
  /** the code of a data type (Sparkplug 3.0 section 6.4.16); null: not sent */
  readonly type: number | null;
  readonly isHistorical: boolean;
  readonly isNull: boolean;
  /** of the property `Quality`; null: it has none */
  readonly quality: number | null;
  /** null: none was sent */
  readonly value: FieldValue | null;
}

/** The field of the message that held the value, and what it held; long: 64 bits without a sign. */
export type FieldValue =
  | { readonly field: 'int' | 'float' | 'double'; readonly value: number }
  | { readonly field: 'long'; readonly value: bigint }
  | { readonly field: 'boolean'; readonly value: boolean }
  | { readonly field: 'string'; readonly value: string }
  /** bytes, a data set, a template, an extension: nothing that one sample could be */
  | { readonly field: 'other' };

/**
 * message Metric: 1 name, 2 alias, 3 timestamp, 4 datatype, 5 is_historical, 7 is_null, 9 properties, 10 int, 11 long,
 * 12 float, 13 double, 14 boolean, 15 string, 16 bytes, 17 data set, 18 template, 19 extension.
 */
export function readMetric(reader: Reader, end: number): Metric {
  const metric: { -readonly [K in keyof Metric]: Metric[K] } = {
    name: null,
    alias: null,
    timestamp: null,
    type: null,
    isHistorical: false,
    isNull: false,
    quality: null,
    value: null,
  };
  while (reader.pos < end) {
    const tag = reader.uint32();
    if (tag === 0x0a) metric.name = reader.string();
    else if (tag === 0x10) metric.alias = String(bigintOf(reader.uint64()));
    else if (tag === 0x18) metric.timestamp = Number(reader.uint64());
    else if (tag === 0x20) metric.type = reader.uint32();
    else if (tag === 0x28) metric.isHistorical = reader.bool();
    else if (tag === 0x38) metric.isNull = reader.bool();
    else if (tag === 0x4a) metric.quality = readQuality(reader, within(reader, end));
    else metric.value = readValue(reader, tag) ?? metric.value;
  }
  if (reader.pos !== end) throw new RangeError('cut off');
  return metric;
}

/** Null: the tag is none of a value, and what it holds is passed over. */
function readValue(reader: Reader, tag: number): FieldValue | null {
  switch (tag) {
    case 0x50:
      return { field: 'int', value: reader.uint32() };
    case 0x58:
      return { field: 'long', value: bigintOf(reader.uint64()) };
    case 0x65:
      return { field: 'float', value: reader.float() };
    case 0x69:
      return { field: 'double', value: reader.double() };
    case 0x70:
      return { field: 'boolean', value: reader.bool() };
    case 0x7a:
      return { field: 'string', value: reader.string() };
  }
  reader.skipType(tag & 7);
  const field = tag >>> 3;
  return field >= 16 && field <= 19 ? { field: 'other' } : null;
}

/** message PropertySet: 1 keys, 2 values; of these only `Quality` says something about a value (section 6.4.14). */
function readQuality(reader: Reader, end: number): number | null {
  const keys: string[] = [];
  const values: (number | null)[] = [];
  while (reader.pos < end) {
    const tag = reader.uint32();
    if (tag === 0x0a) keys.push(reader.string());
    else if (tag === 0x12) values.push(readPropertyNumber(reader, within(reader, end)));
    else reader.skipType(tag & 7);
  }
  if (reader.pos !== end) throw new RangeError('cut off');
  return values[keys.indexOf('Quality')] ?? null;
}

/** message PropertyValue: 1 type, 2 is_null, 3 int, 4 long; null: it is no whole number. */
function readPropertyNumber(reader: Reader, end: number): number | null {
  let value: number | null = null;
  while (reader.pos < end) {
    const tag = reader.uint32();
    if (tag === 0x18) value = reader.uint32();
    else if (tag === 0x20) value = Number(reader.uint64());
    else reader.skipType(tag & 7);
  }
  if (reader.pos !== end) throw new RangeError('cut off');
  return value;
}

/** Where the message that begins here ends; one that would end beyond its own is cut off. */
export function within(reader: Reader, outerEnd: number): number {
  const length = reader.uint32();
  const end = reader.pos + length;
  if (end > outerEnd) throw new RangeError('cut off');
  return end;
}

type Wide = ReturnType<Reader['uint64']>;

const bigintOf = (wide: Wide): bigint =>
  typeof wide === 'number' ? BigInt(wide) : (BigInt(wide.high >>> 0) << 32n) | BigInt(wide.low >>> 0);
