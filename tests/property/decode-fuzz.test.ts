import fc from 'fast-check';
import { expect, test } from 'vitest';
import { decode } from '../../ingest/decode/decode.ts';
import type { Decoded } from '../../ingest/decode/decoded.ts';
import type { Message } from '../../ingest/message.ts';
import { EdgeNode } from '../../ingest/sparkplug/edge-node.ts';
import { parseSparkplugPayload } from '../../ingest/sparkplug/payload.ts';
import { printOf } from '../../ingest/sparkplug/print.ts';
import { MILLISECOND, parseInstant, REACH } from '../../shared/base/instant.ts';
import { catalogueOf, messageOf } from '../fixtures/decode.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';
import { encoded, type UMetric } from '../fixtures/sparkplug.ts';

/**
 * Whatever comes through any door: no decoder throws or hangs, what is taken is fit to be stored, and every entry is taken,
 * heard, passed over or set aside. Inputs grow from ones that are right, by small changes to their bytes, so that they reach
 * far into the decoders. FUZZ_INPUTS sets how many for each door.
 */
const INPUTS = Number(process.env['FUZZ_INPUTS'] ?? 1_000);
/** Some 2 ms an input where others work beside it. */
const TIMEOUT_MS = 60_000 + 20 * INPUTS;
const RUNS = { numRuns: INPUTS, endOnFailure: true };

const CATALOGUE = catalogueOf('small-school', [
  null,
  {
    ...SMALL_SCHOOL,
    units: [
      {
        ...SMALL_SCHOOL.units[0]!,
        points: [
          { signal: 'cooling-call' },
          { signal: 'control-voltage', reporting: { mode: 'polled', seconds: 5 } },
          { signal: 'compressor-output', source: { topic: 'plant/+/di', pointer: '/inputs/3', time: '/ts' } },
          { signal: 'fan-call', source: { topic: 'plant/fan' } },
          { signal: 'high-pressure', sparkplug: 'g/e/d/call' },
          { signal: 'low-pressure', sparkplug: 'g/e//fan' },
        ],
      },
    ],
  },
]);
const NOW = '2026-03-02T08:15:00.000Z';
const AT = parseInstant(NOW)!;
const LATEST = AT + 300_000_000;
const SOON = Date.parse(NOW);

/** No input may keep a decoder so long; the longest of a run is told. */
const LONGEST_MS = 5_000;

/** Small changes to bytes that are right: flipped, cut, doubled, put in, taken from elsewhere. */
const changes = fc.array(
  fc.record({
    how: fc.constantFrom('set', 'flip', 'cut', 'double', 'insert', 'drop'),
    at: fc.nat({ max: 1_000 }),
    byte: fc.nat({ max: 255 }),
  }),
  { maxLength: 4 },
);
type Change = typeof changes extends fc.Arbitrary<(infer C)[]> ? C : never;

function changed(bytes: Uint8Array, list: readonly Change[]): Uint8Array {
  let now = Buffer.from(bytes);
  for (const { how, at: place, byte } of list) {
    const at = now.length === 0 ? 0 : place % now.length;
    if (how === 'set' && now.length > 0) now[at] = byte;
    if (how === 'flip' && now.length > 0) now[at] = now[at]! ^ (1 << (byte & 7));
    if (how === 'cut') now = now.subarray(0, at);
    if (how === 'double') now = Buffer.concat([now, now.subarray(at)]);
    if (how === 'insert') now = Buffer.concat([now.subarray(0, at), Buffer.of(byte), now.subarray(at)]);
    if (how === 'drop') now = Buffer.concat([now.subarray(0, at), now.subarray(at + 1)]);
  }
  return now;
}

const count = ({ samples, intervals, heard, heartbeats, rejected, passedOver }: Decoded): number =>
  samples.length +
  intervals.length +
  heard.length +
  heartbeats.length +
  passedOver +
  rejected.reduce((sum, { entries }) => sum + entries, 0);

function expectFit(decoded: Decoded): void {
  for (const { t, value, quality } of [...decoded.samples, ...decoded.stale]) {
    if (!Number.isInteger(t) || t <= -REACH || t > LATEST) expect.fail(`at ${t}`);
    if (!Number.isFinite(value) || Object.is(value, -0)) expect.fail(`value ${value}`);
    if (quality !== 0 && quality !== 1 && quality !== 2) expect.fail(`quality ${quality}`);
  }
  for (const { t } of decoded.heartbeats) if (!Number.isInteger(t) || t > LATEST) expect.fail(`lived ${t}`);
  for (const { detail, payload, payloadBytes } of decoded.rejected) {
    if (detail.includes('\u0000')) expect.fail('a text that can’t be stored');
    if (payload.length > payloadBytes) expect.fail('more kept than came');
  }
}

const decoding = (message: Message): Decoded =>
  decode(message, { root: 'holdoff', catalogue: CATALOGUE, arrivalOf: (_, at) => at });

const aTime = fc.constantFrom<unknown>(NOW, SOON, SOON - 5, '2199-01-01T00:00:00Z', null, 'yesterday', 1e300);
const aValue = fc.constantFrom<unknown>(0, 1, 24.6, -0, 1e308, 'on', 'OPEN', true, null, 'x', [1], { v: 1 });
const aQuality = fc.constantFrom<unknown>('good', 'bad', 'uncertain', 'lost', null);
const entry = fc.record({ t: aTime, v: aValue, q: aQuality }, { requiredKeys: [] });
const aBody = fc.oneof(
  aValue,
  entry,
  fc.array(entry, { maxLength: 4 }),
  fc.record({ t: fc.array(aTime, { maxLength: 4 }), v: fc.array(aValue, { maxLength: 4 }), q: aQuality }),
  fc.record({
    t0: aTime,
    dt: fc.constantFrom<unknown>(0.5, 0, -1, 1e300, 'x'),
    v: fc.array(aValue, { maxLength: 4 }),
  }),
  fc.record({ t0: aTime, t1: aTime, min: aValue, max: aValue, mean: aValue }),
  fc.record({
    t0: aTime,
    dt: fc.constantFrom(0.001, 0.0001, 1),
    w: fc.array(aValue, { maxLength: 40 }),
    scale: aValue,
  }),
  fc.record({
    t: aTime,
    signals: fc.dictionary(fc.constantFrom('cooling-call', 'control-voltage', 'x'), aValue),
  }),
  fc.record({
    ts: aTime,
    inputs: fc.oneof(fc.array(aValue, { maxLength: 5 }), fc.dictionary(fc.constantFrom('3', '4'), entry)),
  }),
);
const textOf = (body: unknown): Uint8Array => Buffer.from(JSON.stringify(body) ?? '');

const JSON_TOPICS = [
  'holdoff/small-school/unit-1/cooling-call',
  'holdoff/small-school/unit-1/control-voltage',
  'holdoff/small-school/unit-1',
  'holdoff/small-school/gateway/heartbeat',
  'holdoff/small-school/gateway/offline',
  'holdoff/small-school/unit-9/x',
  'plant/7/di',
  'plant/fan',
];

test(
  'JSON, on the root’s topics and on those that points name',
  () => {
    let longest = 0;
    fc.assert(
      fc.property(fc.constantFrom(...JSON_TOPICS), aBody, changes, (topic, body, list) => {
        const payload = changed(textOf(body), list);
        const startedAt = performance.now();
        const decoded = decoding(messageOf({ topic, payload, receivedAt: NOW }));
        longest = Math.max(longest, performance.now() - startedAt);
        expectFit(decoded);
        // an empty list, and a last will, say nothing; whatever isn't understood is counted
        if (count(decoded) === 0 && !saysNothing(topic, payload)) expect.fail('nothing is told of it');
      }),
      RUNS,
    );
    expect(longest).toBeLessThan(LONGEST_MS);
    told('JSON', longest);
  },
  TIMEOUT_MS,
);

/** Lists without an entry, waveforms too short for a cycle, and wills. */
function saysNothing(topic: string, payload: Uint8Array): boolean {
  if (topic.endsWith('/offline')) return true;
  const body: unknown = JSON.parse(Buffer.from(payload).toString('utf8'));
  const isEmpty = (part: unknown): boolean =>
    typeof part === 'object' && part !== null && Object.values(part).every(isEmptyList);
  return (
    isEmpty(body) ||
    JSON.stringify(body).includes('[]') ||
    JSON.stringify(body).includes('{}') ||
    hasWaveform(body)
  );
}
const isEmptyList = (part: unknown): boolean =>
  typeof part === 'object' && part !== null && Object.keys(part).length === 0;
const hasWaveform = (body: unknown): boolean => JSON.stringify(body).includes('"w"');

const anAlias = fc.constantFrom(0, 1, 2, 3);
const aMetric: fc.Arbitrary<UMetric> = fc
  .record({
    name: fc.constantFrom('call', 'fan', 'bdSeq', 'other', '', undefined),
    alias: fc.option(anAlias, { nil: undefined }),
    timestamp: fc.constantFrom<number | undefined>(SOON, SOON - 1_000, SOON + 1e9, 0, undefined),
    typed: fc.constantFrom<Pick<UMetric, 'type' | 'value'>>(
      { type: 'Boolean', value: true },
      { type: 'Int8', value: -3 },
      { type: 'UInt64', value: 7 },
      { type: 'Float', value: 0.5 },
      { type: 'Double', value: 1e300 },
      { type: 'String', value: 'on' },
      { type: 'DateTime', value: SOON },
      { type: 'Bytes', value: Buffer.of(1, 2) },
      { type: 'Template', value: { metrics: [] } },
      { type: 'Boolean', value: null },
    ),
    isHistorical: fc.boolean(),
    quality: fc.constantFrom(undefined, 0, 192, 500, 7),
  })
  .map(({ typed, quality, ...rest }) => ({
    ...rest,
    ...typed,
    ...(quality === undefined ? {} : { properties: { Quality: { type: 'Int32', value: quality } } }),
  })) as fc.Arbitrary<UMetric>;

const aNodeMessage = fc.record({
  kind: fc.constantFrom('NBIRTH', 'NBIRTH', 'NDATA', 'NDATA', 'DBIRTH', 'DDATA', 'NDEATH', 'DDEATH'),
  seq: fc.constantFrom(0, 0, 1, 1, 2, 3, 255, 300, undefined),
  timestamp: fc.constantFrom<number | undefined>(SOON, SOON - 1_000, SOON + 1e9, undefined),
  metrics: fc.array(aMetric, { maxLength: 4 }),
  list: fc.oneof({ weight: 2, arbitrary: fc.constant([]) }, { weight: 1, arbitrary: changes }),
  isCompressed: fc.nat({ max: 9 }),
});
type NodeInput = typeof aNodeMessage extends fc.Arbitrary<infer N> ? N : never;

/** Messages of one edge node, one after the other: what is told of each goes through decoding. */
const SEQUENCE = 10;

test(
  'Sparkplug: payloads, an edge node’s session, and what points take of it',
  () => {
    let longest = 0;
    fc.assert(
      fc.property(fc.array(aNodeMessage, { minLength: SEQUENCE, maxLength: SEQUENCE }), (inputs) => {
        const startedAt = performance.now();
        const handedBack = live(inputs);
        longest = Math.max(longest, performance.now() - startedAt);
        if (handedBack.some((times) => times !== 1))
          expect.fail(`handed back ${handedBack.join(', ')} times`);
      }),
      { ...RUNS, numRuns: Math.ceil(INPUTS / SEQUENCE) },
    );
    expect(longest).toBeLessThan(LONGEST_MS);
    told('Sparkplug', longest);
  },
  TIMEOUT_MS,
);

/** How often each message was handed back: once, whatever it was. */
function live(inputs: readonly NodeInput[]): number[] {
  const node = new EdgeNode<number>({ group: 'g', edge: 'e', reorderSeconds: 2, heardBefore: AT - 1e9 });
  const handedBack = inputs.map(() => 0);
  const after = ({ told: list }: ReturnType<typeof node.tick>) => {
    for (const { message, said } of list) {
      if (message !== null) handedBack[message]!++;
      const payload = new Uint8Array(3);
      const decoded = decoding({
        ...messageOf({ topic: 'spBv1.0/g/NDATA/e', payload, receivedAt: NOW }),
        said,
      });
      expectFit(decoded);
      // each metric once, a birth's perhaps at two times, and one more for the gateway's life
      const least = said.metrics.length + (said.refused ? 1 : 0);
      if (count(decoded) < least) expect.fail(`${least - count(decoded)} not accounted for`);
    }
  };
  for (const [i, input] of inputs.entries()) {
    const bytes = changed(bytesOf(input), input.list);
    const parsed = parseSparkplugPayload(bytes);
    if (!parsed.ok) {
      handedBack[i]!++; // the host sets it aside
      continue;
    }
    const kind = input.kind as 'NBIRTH';
    const device = kind.startsWith('D') ? 'd' : '';
    const print = printOf(kind, device, bytes);
    after(
      node.take(
        { kind, device, payload: parsed.payload, print, bytes: bytes.length, message: i },
        AT + i * 100 * MILLISECOND,
      ),
    );
  }
  after(node.tick(AT + 60_000 * MILLISECOND));
  return handedBack;
}

function bytesOf({ seq, timestamp, metrics, isCompressed }: NodeInput): Uint8Array {
  const inner = encoded({
    ...(seq === undefined ? {} : { seq }),
    ...(timestamp === undefined ? {} : { timestamp }),
    metrics,
  });
  return isCompressed === 0 ? encoded({ uuid: 'SPBV1.0_COMPRESSED', body: inner, metrics: [] }) : inner;
}

const told = (door: string, longest: number): void =>
  console.log(`${door}: ${INPUTS} inputs, the longest ${longest.toFixed(1)} ms`);
