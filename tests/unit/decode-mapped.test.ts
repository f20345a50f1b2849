import { describe, expect, test } from 'vitest';
import { catalogueOf, decodeWith, told } from '../fixtures/decode.ts';
import { MAPPED_SCHOOL } from '../fixtures/mapped-school.ts';

/** Topics and documents of a gateway's own, as contract 1.3 maps them to points; pointers are RFC 6901's. */
const CATALOGUE = catalogueOf('small-school', [null, MAPPED_SCHOOL]);
const NOW = '2026-03-02T08:15:00.500Z';
const T = '2026-03-02T08:14:59.000Z';
const INPUTS = 'plant/7/ahu/2/di';

const say = (topic: string, body: unknown) =>
  told(
    decodeWith(CATALOGUE, {
      topic,
      payload: typeof body === 'string' ? body : JSON.stringify(body),
      receivedAt: NOW,
    }),
  );
const inputs = (third: unknown, fourth?: unknown) => {
  const list: unknown[] = [0, 0, 0, { state: third }];
  return fourth === undefined ? list : [...list, { state: fourth }];
};

describe('a message of a gateway’s own form', () => {
  test('is several points’ values, each where its pointer leads, timed by the message', () => {
    expect(say(INPUTS, { ts: T, inputs: inputs('closed', 0) })).toEqual([
      `unit-1/cooling-call ${T} 1 good`,
      `unit-1/compressor-output ${T} 0 good`,
    ]);
  });

  test('may leave out what hasn’t changed: a pointer that leads nowhere says nothing', () => {
    expect(say(INPUTS, { ts: T, inputs: inputs(1) })).toEqual([`unit-1/cooling-call ${T} 1 good`]);
  });

  test('is set aside where no pointer leads anywhere', () => {
    expect(say(INPUTS, { ts: T, outputs: [] })).toEqual(['set aside: pointer-nowhere']);
  });

  test.each<[what: string, value: unknown, says: string]>([
    ['that is no value of the signal', 'perhaps', 'set aside: value-not-known'],
    ['that is null', null, 'set aside: value-not-known'],
    ['that is null and lost', { v: 1, q: 'lost' }, 'set aside: quality-not-known'],
  ])('a value %s costs its neighbour nothing', (_, value, says) => {
    expect(say(INPUTS, { ts: T, inputs: inputs(value, 1) })).toEqual([
      `unit-1/compressor-output ${T} 1 good`,
      says,
    ]);
  });

  test('without the time that it should carry is set aside, not timed at arrival', () => {
    expect(say(INPUTS, { inputs: inputs(1) })).toEqual(['set aside: time-not-known']);
  });

  test('a name with "/" in it is pointed to by ~1', () => {
    expect(say('plant/7/meters', { 'a/b': { volts: 26.1 } })).toEqual([
      `unit-1/control-voltage ${NOW} 26.1 good`,
    ]);
  });

  test('without a time of its own may have any form of contract 1.1 at the pointer', () => {
    const volts = { t: [T, NOW], v: [24, 25] };
    expect(say('plant/7/meters/deep/below', { 'a/b': { volts } })).toEqual([
      `unit-1/control-voltage ${T} 24 good`,
      `unit-1/control-voltage ${NOW} 25 good`,
    ]);
  });

  test.each(['ON', ' on\n', '1', '"closed"', 'true'])(
    'a whole payload of %j is a contact’s value',
    (text) => {
      expect(say('plant/7/fan', text)).toEqual([`unit-1/fan-call ${NOW} 1 good`]);
    },
  );

  test.each<[payload: string, reason: string]>([
    ['{"ts":', 'payload-not-json'],
    ['', 'payload-empty'],
    ['not a word', 'payload-not-json'],
  ])('%j is set aside: %s', (payload, reason) => {
    expect(say('plant/7/fan', payload)).toEqual([`set aside: ${reason}`]);
  });
});

describe('topics', () => {
  test('that nobody named, outside the root, are none of ours', () => {
    expect(say('plant/8/fan', '1')).toEqual([]);
    expect(say('plant/7/ahu/2/di/more', { ts: T })).toEqual([]);
  });

  test('of the root’s own form stay their point’s, whatever a source says', () => {
    const taking = catalogueOf('small-school', [
      null,
      {
        ...MAPPED_SCHOOL,
        points: [{ signal: 'outdoor-temperature', source: { topic: 'holdoff/#' } }],
      },
    ]);
    const saying = (topic: string) => told(decodeWith(taking, { topic, payload: '1', receivedAt: NOW }));
    expect(saying('holdoff/small-school/unit-1/cooling-call')).toEqual([`unit-1/cooling-call ${NOW} 1 good`]);
    expect(saying('holdoff/weather/outdoors')).toEqual([`site/outdoor-temperature ${NOW} 1 good`]);
  });
});
