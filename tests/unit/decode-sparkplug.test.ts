import { describe, expect, test } from 'vitest';
import { decode } from '../../ingest/decode/decode.ts';
import type { Said, SaidMetric } from '../../ingest/sparkplug/said.ts';
import { parseInstant } from '../../shared/base/instant.ts';
import { catalogueOf, messageOf, told } from '../fixtures/decode.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';

/** What points take of an edge node's message, once its place in its session is known. */
const CATALOGUE = catalogueOf('small-school', [
  null,
  {
    ...SMALL_SCHOOL,
    units: [
      {
        ...SMALL_SCHOOL.units[0]!,
        points: [
          { signal: 'cooling-call', sparkplug: 'g/e/d/Inputs/call' },
          { signal: 'control-voltage', sparkplug: 'g/e//volts' },
        ],
      },
    ],
  },
]);
const NOW = '2026-03-02T08:15:00.500Z';
const SENT = Date.parse('2026-03-02T08:15:00.250Z');

const metric = (
  name: string | null,
  value: SaidMetric['value'],
  more: Partial<SaidMetric> = {},
): SaidMetric => ({
  device: 'd',
  name,
  t: SENT,
  alsoAt: null,
  value,
  quality: 'good',
  refusal: null,
  ...more,
});

function say(said: Partial<Said>) {
  const message = messageOf({ topic: 'spBv1.0/g/DDATA/e/d', payload: 'protobuf', receivedAt: NOW });
  const whole: Said = {
    group: 'g',
    edge: 'e',
    livedAt: null,
    metrics: [],
    stale: [],
    refused: null,
    ...said,
  };
  const arrivalOf = (_: unknown, at: number) => at;
  return decode({ ...message, said: whole }, { root: 'holdoff', catalogue: CATALOGUE, arrivalOf });
}

test('a mapped metric is a sample, one that no point names is passed over, and the gateway lived when it was sent', () => {
  const decoded = say({ livedAt: SENT, metrics: [metric('Inputs/call', true), metric('Firmware', '1.2')] });
  expect(told(decoded)).toEqual([
    'unit-1/cooling-call 2026-03-02T08:15:00.250Z 1 good',
    'gateway lived 2026-03-02T08:15:00.000Z',
  ]);
  expect(decoded.passedOver).toBe(1);
});

test('a birth’s value with an older time of its own is so at the birth, too', () => {
  const old = metric('Inputs/call', false, { t: SENT - 3_600_000, alsoAt: SENT });
  expect(told(say({ metrics: [old] }))).toEqual([
    'unit-1/cooling-call 2026-03-02T07:15:00.250Z 0 good',
    'unit-1/cooling-call 2026-03-02T08:15:00.250Z 0 good',
  ]);
});

describe('what can’t be taken is set aside with its reason, beside what can', () => {
  test.each<[what: string, metric: SaidMetric, says: string[]]>([
    ['a word for a voltage', metric('volts', 'high', { device: '' }), ['set aside: value-not-known']],
    [
      'a null',
      metric('Inputs/call', null, { quality: 'bad' }),
      ['unit-1/cooling-call 2026-03-02T08:15:00.250Z 0 bad'],
    ],
    [
      'an alias without a birth',
      metric(null, null, { refusal: 'sparkplug-not-born' }),
      ['set aside: sparkplug-not-born'],
    ],
    ['a data set', metric('Inputs/call', null, { refusal: 'sparkplug-type' }), ['set aside: sparkplug-type']],
    [
      'a time in the future',
      metric('Inputs/call', true, { t: SENT + 3_600_000 }),
      ['set aside: time-in-future'],
    ],
    ['a data set that no point names', metric('Table', null, { refusal: 'sparkplug-type' }), []],
  ])('%s', (_, one, says) => {
    const neighbour = metric('volts', 26.1, { device: '' });
    const decoded = say({ metrics: [one, neighbour] });
    const taken = 'unit-1/control-voltage 2026-03-02T08:15:00.250Z 26.1 good';
    expect(told(decoded).sort()).toEqual([taken, ...says].sort());
  });

  test('a payload that is none, with its first bytes', () => {
    const decoded = say({ refused: 'payload-not-sparkplug' });
    expect(decoded.rejected).toMatchObject([
      { reason: 'payload-not-sparkplug', payload: Buffer.from('protobuf'), entries: 1 },
    ]);
  });
});

test('what is stale shows no life, and is the device’s own or all of the edge node’s', () => {
  const t = parseInstant(NOW)!;
  const all = say({ stale: [{ device: null, t }] });
  expect(all.stale.map(({ point, quality }) => [point.signal, quality])).toEqual([
    ['cooling-call', 2],
    ['control-voltage', 2],
  ]);
  expect(told(all)).toEqual([]);
  expect(say({ stale: [{ device: 'd', t }] }).stale.map(({ point }) => point.signal)).toEqual([
    'cooling-call',
  ]);
});
