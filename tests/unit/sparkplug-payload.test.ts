import { deflateSync } from 'node:zlib';
import { describe, expect, test } from 'vitest';
import { typedValue } from '../../ingest/sparkplug/data-type.ts';
import { parseSparkplugPayload, rebirthRequest } from '../../ingest/sparkplug/payload.ts';
import { parseSparkplugTopic } from '../../ingest/sparkplug/topic.ts';
import { decoded, encoded, parsed, type UMetric } from '../fixtures/sparkplug.ts';

/** The code of each data type: Sparkplug 3.0 section 6.4.16, and its protobuf schema. */
const CODES = {
  Int8: 1,
  Int16: 2,
  Int32: 3,
  Int64: 4,
  UInt8: 5,
  UInt16: 6,
  UInt32: 7,
  UInt64: 8,
  Float: 9,
  Double: 10,
  Boolean: 11,
  String: 12,
  DateTime: 13,
  Text: 14,
  UUID: 15,
} as const;

describe('values, as the protocol’s own library encodes them', () => {
  test.each<[type: keyof typeof CODES, values: (number | boolean | string)[]]>([
    ['Int8', [-128, -1, 0, 127]],
    ['Int16', [-32_768, -1, 32_767]],
    ['Int32', [-2_147_483_648, -1, 2_147_483_647]],
    ['Int64', [-9_007_199_254_740_991, -1, 0, 9_007_199_254_740_991]],
    ['UInt8', [0, 255]],
    ['UInt16', [0, 65_535]],
    ['UInt32', [0, 2_147_483_648, 4_294_967_295]],
    ['UInt64', [0, 9_007_199_254_740_991]],
    ['Float', [0.5, -3.25]],
    ['Double', [1e-300, 26.1]],
    ['Boolean', [true, false]],
    ['String', ['', 'closed']],
    ['Text', ['Ö']],
    ['UUID', ['123e4567-e89b-12d3-a456-426614174000']],
    ['DateTime', [1_772_438_400_000]],
  ])('%s', (type, values) => {
    for (const value of values) {
      const [metric] = parsed(encoded({ metrics: [{ name: 'm', type, value }] })).metrics;
      expect(metric).toMatchObject({ name: 'm', type: CODES[type] });
      expect(typedValue(metric!.type!, metric!.value)).toEqual({ ok: true, value });
    }
  });

  test.each<[what: string, type: number, value: Parameters<typeof typedValue>[1], reason: string]>([
    ['300 is no Int8', 1, { field: 'int', value: 300 }, 'value-not-known'],
    ['256 is no UInt8', 5, { field: 'int', value: 256 }, 'value-not-known'],
    ['2^33 is no UInt32', 7, { field: 'long', value: 2n ** 33n }, 'value-not-known'],
    ['a text is no Boolean', 11, { field: 'string', value: 'true' }, 'value-not-known'],
    ['a number is no Boolean', 11, { field: 'int', value: 1 }, 'value-not-known'],
    ['nothing is no Float', 9, null, 'value-not-known'],
    ['a type that nobody knows', 99, { field: 'int', value: 1 }, 'value-not-known'],
    ['an array', 22, { field: 'other' }, 'sparkplug-type'],
    ['bytes', 17, { field: 'other' }, 'sparkplug-type'],
  ])('%s', (_, type, value, reason) => {
    expect(typedValue(type, value)).toEqual({ ok: false, reason });
  });

  test.each<[width: string, type: number, value: Parameters<typeof typedValue>[1], number: number]>([
    ['8 bits', 1, { field: 'int', value: 0xfd }, -3],
    ['32 bits', 1, { field: 'int', value: 0xfffffffd }, -3],
    ['64 bits', 3, { field: 'long', value: 2n ** 64n - 3n }, -3],
  ])('a negative number in the two’s complement of %s', (_, type, value, number) => {
    expect(typedValue(type, value)).toEqual({ ok: true, value: number });
  });
});

test('a metric has its alias of 64 bits, its own time, its marks and its quality', () => {
  const metric: UMetric = {
    name: 'm',
    alias: 4_294_967_296,
    timestamp: 1_772_438_400_123,
    type: 'Double',
    value: 1,
    isHistorical: true,
    properties: { unit: { type: 'String', value: 'V' }, Quality: { type: 'Int32', value: 500 } },
  };
  const payload = parsed(encoded({ timestamp: 1_772_438_400_456, seq: 255, metrics: [metric] }));
  expect(payload).toMatchObject({ timestamp: 1_772_438_400_456, seq: 255 });
  expect(payload.metrics[0]).toMatchObject({
    alias: '4294967296',
    timestamp: 1_772_438_400_123,
    isHistorical: true,
    isNull: false,
    quality: 500,
  });
});

test('a compressed payload is the one that it holds; one that swells beyond bounds is none', () => {
  const inner = encoded({ timestamp: 1, seq: 9, metrics: [{ name: 'm', type: 'Boolean', value: true }] });
  const wrap = (body: Uint8Array) => encoded({ uuid: 'SPBV1.0_COMPRESSED', body, metrics: [] });
  expect(parsed(wrap(deflateSync(inner)))).toMatchObject({ seq: 9, metrics: [{ name: 'm' }] });
  expect(parseSparkplugPayload(wrap(deflateSync(Buffer.alloc(5_000_000))))).toMatchObject({ ok: false });
  expect(parseSparkplugPayload(wrap(inner))).toEqual({ ok: false, reason: 'payload-not-sparkplug' });
});

test('a payload that is cut anywhere is refused or says less, and never more', () => {
  const whole = encoded({
    timestamp: 1,
    seq: 3,
    metrics: [1, 2, 3].map((i) => ({ name: `metric-${i}`, type: 'Int32' as const, value: -i })),
  });
  const names = parsed(whole).metrics.map(({ name }) => name);
  for (let length = 0; length < whole.length; length++) {
    const result = parseSparkplugPayload(whole.subarray(0, length));
    if (result.ok)
      expect(names).toEqual(expect.arrayContaining(result.payload.metrics.map(({ name }) => name)));
  }
});

// tck-id-topics-ncmd-timestamp, tck-id-payloads-ncmd-timestamp, tck-id-payloads-ncmd-seq,
// tck-id-operational-behavior-data-commands-ncmd-rebirth-name, tck-id-operational-behavior-data-commands-ncmd-rebirth-value
test('a rebirth request is read by the protocol’s own library', () => {
  const request = decoded(rebirthRequest(1_772_438_400_000));
  expect(request.seq).toBeFalsy();
  expect(Number(request.timestamp)).toBe(1_772_438_400_000);
  expect(request.metrics).toMatchObject([{ name: 'Node Control/Rebirth', type: 'Boolean', value: true }]);
});

test.each([
  ['spBv1.0/g/NBIRTH/e', { group: 'g', kind: 'NBIRTH', edge: 'e', device: '' }],
  ['spBv1.0/g/DDATA/e/d', { group: 'g', kind: 'DDATA', edge: 'e', device: 'd' }],
  ['spBv1.0/g/DDATA/e', null],
  ['spBv1.0/g/NDATA/e/d', null],
  ['spBv1.0/g/NCMD/e', null],
  ['spBv1.0/STATE/holdoff', null],
  ['spBv1.0/g/constructor/e', null],
  ['spAv1.0/g/NBIRTH/e', null],
])('topic %s', (topic, parts) => {
  expect(parseSparkplugTopic(topic)).toEqual(parts);
});
