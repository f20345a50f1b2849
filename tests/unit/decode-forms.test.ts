import { describe, expect, test } from 'vitest';
import { catalogueOf, decodeWith, told } from '../fixtures/decode.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';

/** Every form of contract 1.1, and what it says. Source of each row: contract 1.1 and 1.4. */
const CATALOGUE = catalogueOf('small-school', [null, SMALL_SCHOOL]);
const NOW = '2026-03-02T08:15:00.500Z';
const CALL = 'holdoff/small-school/unit-1/cooling-call';
const VOLTAGE = 'holdoff/small-school/unit-1/control-voltage';
const UNIT = 'holdoff/small-school/unit-1';

const say = (topic: string, payload: string) =>
  told(decodeWith(CATALOGUE, { topic, payload, receivedAt: NOW }));

describe('payloads of a signal topic', () => {
  test.each<[form: string, topic: string, payload: string, says: string[]]>([
    ['scalar number', VOLTAGE, '24.6', [`unit-1/control-voltage ${NOW} 24.6 good`]],
    ['scalar contact', CALL, '1', [`unit-1/cooling-call ${NOW} 1 good`]],
    ['scalar true', CALL, 'true', [`unit-1/cooling-call ${NOW} 1 good`]],
    ['scalar closed', CALL, '"closed"', [`unit-1/cooling-call ${NOW} 1 good`]],
    ['scalar on, in any case', CALL, '"On"', [`unit-1/cooling-call ${NOW} 1 good`]],
    ['scalar ACTIVE', CALL, '"ACTIVE"', [`unit-1/cooling-call ${NOW} 1 good`]],
    ['scalar "1"', CALL, '"1"', [`unit-1/cooling-call ${NOW} 1 good`]],
    ['scalar off', CALL, '"off"', [`unit-1/cooling-call ${NOW} 0 good`]],
    ['scalar open', CALL, '"open"', [`unit-1/cooling-call ${NOW} 0 good`]],
    ['scalar "false"', CALL, '"False"', [`unit-1/cooling-call ${NOW} 0 good`]],
    ['scalar inactive', CALL, '"inactive"', [`unit-1/cooling-call ${NOW} 0 good`]],
    ['scalar "0"', CALL, '"0"', [`unit-1/cooling-call ${NOW} 0 good`]],
    ['scalar false', CALL, 'false', [`unit-1/cooling-call ${NOW} 0 good`]],
    [
      'sample',
      CALL,
      '{"t":"2026-03-02T08:15:00.250Z","v":1,"q":"good"}',
      ['unit-1/cooling-call 2026-03-02T08:15:00.250Z 1 good'],
    ],
    [
      'sample with an offset',
      CALL,
      '{"t":"2026-03-02T02:15:00.25-06:00","v":1}',
      ['unit-1/cooling-call 2026-03-02T08:15:00.250Z 1 good'],
    ],
    [
      'sample in Unix milliseconds, with a fraction',
      CALL,
      '{"t":1772439300250.1256,"v":"closed"}',
      ['unit-1/cooling-call 2026-03-02T08:15:00.250126Z 1 good'],
    ],
    [
      'a time is rounded once, to the microsecond',
      CALL,
      '{"t":"2026-03-02T08:15:00.2500005Z","v":1}',
      ['unit-1/cooling-call 2026-03-02T08:15:00.250001Z 1 good'],
    ],
    [
      'sample uncertain',
      CALL,
      '{"t":0,"v":1,"q":"uncertain"}',
      ['unit-1/cooling-call 1970-01-01T00:00:00.000Z 1 uncertain'],
    ],
    [
      'sample bad, without a number',
      VOLTAGE,
      '{"t":0,"v":null,"q":"bad"}',
      ['unit-1/control-voltage 1970-01-01T00:00:00.000Z 0 bad'],
    ],
    ['sample without a time', CALL, '{"v":1}', [`unit-1/cooling-call ${NOW} 1 good`]],
    [
      'samples, in any order',
      VOLTAGE,
      '[{"t":2000,"v":25},{"t":1000,"v":24,"q":"bad"}]',
      [
        'unit-1/control-voltage 1970-01-01T00:00:02.000Z 25 good',
        'unit-1/control-voltage 1970-01-01T00:00:01.000Z 24 bad',
      ],
    ],
    [
      'samples as columns',
      VOLTAGE,
      '{"t":[1000,2000],"v":[24,25]}',
      [
        'unit-1/control-voltage 1970-01-01T00:00:01.000Z 24 good',
        'unit-1/control-voltage 1970-01-01T00:00:02.000Z 25 good',
      ],
    ],
    [
      'samples as columns, with qualities',
      CALL,
      '{"t":[1000,2000],"v":["on","off"],"q":["bad","good"]}',
      [
        'unit-1/cooling-call 1970-01-01T00:00:01.000Z 1 bad',
        'unit-1/cooling-call 1970-01-01T00:00:02.000Z 0 good',
      ],
    ],
    [
      'series: half cycles at 60 Hz',
      VOLTAGE,
      '{"t0":1000,"dt":0.0083333,"v":[24,25,26]}',
      [
        'unit-1/control-voltage 1970-01-01T00:00:01.000Z 24 good',
        'unit-1/control-voltage 1970-01-01T00:00:01.008333Z 25 good',
        'unit-1/control-voltage 1970-01-01T00:00:01.016667Z 26 good',
      ],
    ],
    [
      'interval',
      VOLTAGE,
      '{"t0":1000,"t1":2000,"min":23.5,"max":26,"mean":25}',
      ['unit-1/control-voltage 1970-01-01T00:00:01.000Z–1970-01-01T00:00:02.000Z 23.5…26 ~25 good'],
    ],
    [
      'interval without a mean',
      VOLTAGE,
      '{"t0":1000,"t1":2000,"min":23.5,"max":26}',
      ['unit-1/control-voltage 1970-01-01T00:00:01.000Z–1970-01-01T00:00:02.000Z 23.5…26 ~null good'],
    ],
    [
      'waveform',
      VOLTAGE,
      '{"t0":1000,"dt":0.00013021,"w":[1,2],"scale":1}',
      ['waveform unit-1/control-voltage 1970-01-01T00:00:01.000Z 2 values'],
    ],
  ])('%s', (_form, topic, payload, says) => {
    expect(say(topic, payload)).toEqual(says);
  });
});

describe('payloads of a device topic', () => {
  test('signals of one instant', () => {
    expect(say(UNIT, '{"t":1000,"signals":{"cooling-call":1,"control-voltage":26.1}}')).toEqual([
      'unit-1/cooling-call 1970-01-01T00:00:01.000Z 1 good',
      'unit-1/control-voltage 1970-01-01T00:00:01.000Z 26.1 good',
    ]);
  });

  test('an array of those', () => {
    expect(
      say(UNIT, '[{"t":1000,"signals":{"cooling-call":1}},{"t":2000,"signals":{"cooling-call":0}}]'),
    ).toEqual([
      'unit-1/cooling-call 1970-01-01T00:00:01.000Z 1 good',
      'unit-1/cooling-call 1970-01-01T00:00:02.000Z 0 good',
    ]);
  });

  test('without a time: timed at arrival', () => {
    expect(say(UNIT, '{"signals":{"cooling-call":1}}')).toEqual([`unit-1/cooling-call ${NOW} 1 good`]);
  });

  test('one bad signal doesn’t cost the others', () => {
    const decoded = decodeWith(CATALOGUE, {
      topic: UNIT,
      payload: '{"t":1000,"signals":{"cooling-call":"perhaps","nonsense":1,"control-voltage":26.1}}',
      receivedAt: NOW,
    });
    expect(told(decoded)).toEqual([
      'unit-1/control-voltage 1970-01-01T00:00:01.000Z 26.1 good',
      'set aside: value-not-known',
      'set aside: point-not-known',
    ]);
    // what is kept could be sent again on the same topic by itself
    expect(decoded.rejected.map(({ payload }) => String(payload))).toEqual([
      '{"t":1000,"signals":{"cooling-call":"perhaps"}}',
      '{"t":1000,"signals":{"nonsense":1}}',
    ]);
  });

  test('the site itself is the device “site”; panels have topics of their own', () => {
    expect(say('holdoff/small-school/panel-a/line-voltage', '{"t":0,"v":240}')).toEqual([
      'panel-a/line-voltage 1970-01-01T00:00:00.000Z 240 good',
    ]);
  });
});

describe('gateway life', () => {
  test('a heartbeat says that it lived at t', () => {
    expect(say('holdoff/small-school/gateway/heartbeat', '{"t":1772439300250}')).toEqual([
      'gateway lived 2026-03-02T08:15:00.250Z',
    ]);
  });

  test('a last will adds no life, whatever it says', () => {
    for (const payload of ['', '1', '{"t":1772439300250}', '\u0000'])
      expect(say('holdoff/small-school/gateway/offline', payload)).toEqual([]);
  });

  test('the life of a gateway can’t be sent as a sample', () => {
    expect(say('holdoff/small-school/gateway/life', '{"t":0,"v":1}')).toEqual(['set aside: point-not-known']);
  });
});

describe('a value without a time that may have waited is heard, not folded', () => {
  test.each(['duplicate', 'retained', 'before-marker'] as const)('%s', (waited) => {
    const message = { topic: CALL, payload: '1', receivedAt: NOW, waited };
    expect(told(decodeWith(CATALOGUE, message))).toEqual([`unit-1/cooling-call heard 1 ${waited}`]);
    const timed = { ...message, payload: '{"t":1000,"v":1}' };
    expect(told(decodeWith(CATALOGUE, timed))).toEqual([
      'unit-1/cooling-call 1970-01-01T00:00:01.000Z 1 good',
    ]);
  });
});

describe('configuration as history', () => {
  const without = {
    ...SMALL_SCHOOL,
    units: [{ id: 'unit-1', panel: 'panel-a', points: [{ signal: 'cooling-call' }] }],
  };
  const payload = (t: string) => JSON.stringify({ t, v: 24 });

  test('a point that was taken away is taken for the time in which it was there', () => {
    const catalogue = catalogueOf('small-school', [null, SMALL_SCHOOL], ['2026-03-02T08:00:00Z', without]);
    const at = (t: string) =>
      told(decodeWith(catalogue, { topic: VOLTAGE, payload: payload(t), receivedAt: NOW }));
    expect(at('2026-03-02T07:59:59Z')).toEqual(['unit-1/control-voltage 2026-03-02T07:59:59.000Z 24 good']);
    expect(at('2026-03-02T08:00:00Z')).toEqual(['set aside: point-not-known']);
  });

  test('a point that is there now is taken for any time', () => {
    const catalogue = catalogueOf('small-school', [null, without], ['2026-03-02T08:00:00Z', SMALL_SCHOOL]);
    const early = { topic: VOLTAGE, payload: payload('2026-01-01T00:00:00Z'), receivedAt: NOW };
    expect(told(decodeWith(catalogue, early))).toEqual([
      'unit-1/control-voltage 2026-01-01T00:00:00.000Z 24 good',
    ]);
  });
});
