import fc from 'fast-check';
import { expect, test } from 'vitest';
import type { TakenSample } from '../../ingest/decode/decoded.ts';
import { sampleColumns } from '../../ingest/sample-batch.ts';
import { parseInstant, REACH } from '../../shared/base/instant.ts';
import { mergeSamples, type Sample } from '../../shared/telemetry/sample.ts';
import { catalogueOf, decodeWith } from '../fixtures/decode.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';

const CATALOGUE = catalogueOf('small-school', [null, SMALL_SCHOOL]);
const RECEIVED_AT = '2026-03-02T08:15:00.000Z';
const LATEST = parseInstant(RECEIVED_AT)! + 300_000_000;

const aTopic = () =>
  fc.oneof(
    fc.constantFrom(
      'holdoff/small-school/unit-1',
      'holdoff/small-school/unit-1/cooling-call',
      'holdoff/small-school/unit-1/control-voltage',
      'holdoff/small-school/gateway/heartbeat',
      'holdoff/small-school/gateway/offline',
      'holdoff/small-school/site/outdoor-temperature',
      'holdoff',
      'holdoff/',
    ),
    fc.string(),
  );

const aTime = () =>
  fc.oneof(
    fc.constantFrom<unknown>(
      '2026-03-02T08:14:59Z',
      '2027-01-01T00:00:00Z',
      '2026-03-02',
      0,
      1.5,
      -1,
      null,
      1e300,
    ),
    fc.double(),
    fc.anything(),
  );
const aValue = () =>
  fc.oneof(fc.constantFrom<unknown>(0, 1, 'on', 'OPEN', true, null), fc.double(), fc.anything());
const entry = () =>
  fc.record(
    { t: aTime(), v: aValue(), q: fc.constantFrom('good', 'bad', 'uncertain', 7, null) },
    { requiredKeys: [] },
  );

const aBody = () =>
  fc.oneof(
    entry(),
    fc.array(entry()),
    fc.record({ t: fc.array(aTime()), v: fc.array(aValue()) }),
    fc.record({ t0: aTime(), dt: aValue(), v: fc.array(aValue()) }),
    fc.record({ t0: aTime(), t1: aTime(), min: aValue(), max: aValue(), mean: aValue() }),
    fc.record({
      t: aTime(),
      signals: fc.dictionary(fc.constantFrom('cooling-call', 'control-voltage', '__proto__', 'x'), aValue()),
    }),
    fc.anything(),
  );

const textOf = (body: unknown): string => {
  try {
    return JSON.stringify(body) ?? '';
  } catch {
    return ''; // a circle or a BigInt out of fc.anything: nothing that could be sent
  }
};

test('whatever comes, decoding doesn’t throw, and what it takes is fit to be stored', () => {
  const payload = fc.oneof(aBody().map(textOf), fc.uint8Array({ maxLength: 200 }), fc.json());
  fc.assert(
    fc.property(aTopic(), payload, (topic, bytes) => {
      const decoded = decodeWith(CATALOGUE, { topic, payload: bytes, receivedAt: RECEIVED_AT });
      for (const { t, value, quality } of decoded.samples) {
        expect(Number.isInteger(t) && t > -REACH && t <= LATEST).toBe(true);
        expect(Number.isFinite(value) && !Object.is(value, -0)).toBe(true);
        expect([0, 1, 2]).toContain(quality);
      }
      for (const { detail, payload: kept, payloadBytes } of decoded.rejected) {
        expect(detail).not.toContain('\u0000');
        expect(kept.length).toBeLessThanOrEqual(payloadBytes);
      }
    }),
    { numRuns: 5_000 },
  );
});

test('every entry of a message is either taken or set aside', () => {
  const topic = 'holdoff/small-school/unit-1/cooling-call';
  fc.assert(
    fc.property(fc.array(entry(), { maxLength: 30 }), (entries) => {
      const text = textOf(entries);
      fc.pre(text !== '');
      const decoded = decodeWith(CATALOGUE, { topic, payload: text, receivedAt: RECEIVED_AT });
      const aside = decoded.rejected.reduce((sum, { entries: count }) => sum + count, 0);
      expect(decoded.samples.length + aside).toBe(entries.length);
    }),
    { numRuns: 2_000 },
  );
});

test('every signal of a device message is either taken or set aside', () => {
  fc.assert(
    fc.property(
      fc.dictionary(fc.string({ minLength: 1, maxLength: 8 }), aValue(), { maxKeys: 80 }),
      aTime(),
      (extra, t) => {
        const signals = { 'cooling-call': 1, 'control-voltage': 24, ...extra };
        const text = textOf({ t, signals });
        fc.pre(text !== '');
        const sent = Object.keys((JSON.parse(text) as { signals: object }).signals).length;
        const decoded = decodeWith(CATALOGUE, {
          topic: 'holdoff/small-school/unit-1',
          payload: text,
          receivedAt: RECEIVED_AT,
        });
        const aside = decoded.rejected.reduce((sum, { entries: count }) => sum + count, 0);
        expect(decoded.samples.length + aside).toBe(sent);
      },
    ),
    { numRuns: 1_000 },
  );
});

test('a batch is sorted, holds each point and instant once, and is the join of what came', () => {
  const points = [...CATALOGUE.sites.get('small-school')!.points.values()];
  const sample = fc.record({
    point: fc.constantFrom(...points),
    t: fc.integer({ min: 0, max: 5 }),
    value: fc.constantFrom(0, 1, 2),
    quality: fc.constantFrom(0, 1, 2),
  });
  fc.assert(
    fc.property(fc.array(sample, { maxLength: 40 }), (samples: TakenSample[]) => {
      const joined = new Map<string, Sample & { id: number }>();
      for (const { point, ...one } of samples) {
        const key = `${point.id} ${one.t}`;
        const before = joined.get(key);
        joined.set(key, { id: point.id, ...(before ? mergeSamples(before, one) : one) });
      }
      const expected = [...joined.values()].sort((a, b) => a.id - b.id || a.t - b.t);
      const columns = sampleColumns(samples);
      const rows = Array.from({ length: columns.length }, (_, i) => ({
        id: columns.pointId[i],
        t: columns.t[i],
        value: columns.value[i],
        quality: columns.quality[i],
      }));
      expect(rows).toEqual(expected);
    }),
    { numRuns: 2_000 },
  );
});
