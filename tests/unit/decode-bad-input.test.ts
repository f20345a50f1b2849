import { describe, expect, test } from 'vitest';
import { catalogueOf, decodeWith, told } from '../fixtures/decode.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';

const CATALOGUE = catalogueOf('small-school', [null, SMALL_SCHOOL]);
const NOW = '2026-03-02T08:15:00.000Z';
const CALL = 'holdoff/small-school/unit-1/cooling-call';
const VOLTAGE = 'holdoff/small-school/unit-1/control-voltage';
const UNIT = 'holdoff/small-school/unit-1';

type Row = [what: string, topic: string, payload: string | Uint8Array, says: string[]];

const aside = (reason: string, count = 1) => [`set aside: ${reason}${count > 1 ? ` ×${count}` : ''}`];
const deep = (depth: number) => '['.repeat(depth) + ']'.repeat(depth);

/** Issue 2, "bad input table", and what else gateways manage to send. */
const TABLE: Row[] = [
  ['wrong JSON', CALL, '{"t":', aside('payload-not-json')],
  ['a bare word', CALL, 'closed', aside('payload-not-json')],
  ['two values', CALL, '1 0', aside('payload-not-json')],
  ['NaN', VOLTAGE, 'NaN', aside('payload-not-json')],
  ['a number beyond all numbers', VOLTAGE, '1e999', aside('value-not-known')],
  ['null', CALL, 'null', aside('form-not-known')],
  ['wrong type: a word for a voltage', VOLTAGE, '"on"', aside('value-not-known')],
  ['wrong type: a truth for a voltage', VOLTAGE, 'true', aside('value-not-known')],
  ['wrong type: a word that is none', CALL, '"perhaps"', aside('value-not-known')],
  ['wrong type: an object for a value', CALL, '{"t":0,"v":{}}', aside('value-not-known')],
  ['wrong type: no value', CALL, '{"t":0,"v":null}', aside('value-not-known')],
  ['wrong quality', CALL, '{"t":0,"v":1,"q":"fine"}', aside('quality-not-known')],
  ['wrong quality: a number', CALL, '{"t":0,"v":1,"q":0}', aside('quality-not-known')],
  ['a time without a zone', CALL, '{"t":"2026-03-02T08:15:00","v":1}', aside('time-not-known')],
  ['a day that isn’t', CALL, '{"t":"2026-02-30T08:15:00Z","v":1}', aside('time-not-known')],
  ['a time that is null', CALL, '{"t":null,"v":1}', aside('time-not-known')],
  ['a time that is a truth', CALL, '{"t":true,"v":1}', aside('time-not-known')],
  ['a time out of reach', CALL, '{"t":1e18,"v":1}', aside('time-not-known')],
  ['a time at the very end of reach', CALL, '{"t":-9000000000000,"v":1}', aside('time-not-known')],
  ['an object of no form', CALL, '{"x":1}', aside('form-not-known')],
  ['an empty object', CALL, '{}', aside('form-not-known')],
  ['an empty array says nothing', CALL, '[]', []],
  ['an array of scalars', CALL, '[1,0]', aside('form-not-known', 2)],
  ['columns of two lengths', CALL, '{"t":[1,2],"v":[1]}', aside('form-not-known')],
  ['a column without its other', CALL, '{"v":[1]}', aside('form-not-known')],
  [
    'a hole in the times',
    CALL,
    '{"t":[null,2],"v":[1,1]}',
    ['unit-1/cooling-call 1970-01-01T00:00:00.002Z 1 good', ...aside('time-not-known')],
  ],
  ['a series without a step', VOLTAGE, '{"t0":0,"v":[1]}', aside('form-not-known')],
  ['a series that goes backwards', VOLTAGE, '{"t0":0,"dt":-1,"v":[1]}', aside('form-not-known')],
  ['a series without a beginning', VOLTAGE, '{"t0":"then","dt":1,"v":[1]}', aside('time-not-known')],
  [
    'an interval that ends before it begins',
    VOLTAGE,
    '{"t0":2,"t1":1,"min":1,"max":2}',
    aside('time-not-known'),
  ],
  ['an interval upside down', VOLTAGE, '{"t0":1,"t1":2,"min":2,"max":1}', aside('value-not-known')],
  [
    'an interval with a mean that is none',
    VOLTAGE,
    '{"t0":1,"t1":2,"min":1,"max":2,"mean":"x"}',
    aside('value-not-known'),
  ],
  ['unknown site', 'holdoff/elsewhere/unit-1/cooling-call', '1', aside('point-not-known')],
  ['unknown device', 'holdoff/small-school/unit-9/cooling-call', '1', aside('point-not-known')],
  [
    'unknown device topic',
    'holdoff/small-school/unit-9',
    '{"t":0,"signals":{"cooling-call":1}}',
    aside('point-not-known'),
  ],
  ['a signal that isn’t wired', 'holdoff/small-school/unit-1/high-pressure', '1', aside('point-not-known')],
  ['a signal that there is none', 'holdoff/small-school/unit-1/nonsense', '1', aside('point-not-known')],
  ['a name out of the prototype', 'holdoff/small-school/unit-1/constructor', '1', aside('point-not-known')],
  ['heartbeat of a unit', 'holdoff/small-school/unit-1/heartbeat', '{"t":0}', aside('point-not-known')],
  [
    'heartbeat without sense',
    'holdoff/small-school/gateway/heartbeat',
    '{"t":"soon"}',
    aside('time-not-known'),
  ],
  ['heartbeat that is a number', 'holdoff/small-school/gateway/heartbeat', '1', aside('time-not-known')],
  ['topic too deep', 'holdoff/small-school/unit-1/cooling-call/x', '1', aside('topic-not-known')],
  ['topic too short', 'holdoff/small-school', '1', aside('topic-not-known')],
  ['topic not of slugs', 'holdoff/Small School/unit-1', '1', aside('topic-not-known')],
  ['topic with an empty word', 'holdoff//unit-1', '1', aside('topic-not-known')],
  [
    'future time, by more than 5 minutes',
    CALL,
    '{"t":"2026-03-02T08:20:00.001Z","v":1}',
    aside('time-in-future'),
  ],
  [
    '5 minutes exactly are no future yet',
    CALL,
    '{"t":"2026-03-02T08:20:00.000Z","v":1}',
    ['unit-1/cooling-call 2026-03-02T08:20:00.000Z 1 good'],
  ],
  [
    'one of two in the future',
    CALL,
    '[{"t":0,"v":1},{"t":"2027-01-01T00:00:00Z","v":1}]',
    ['unit-1/cooling-call 1970-01-01T00:00:00.000Z 1 good', ...aside('time-in-future')],
  ],
  [
    'a heartbeat in the future',
    'holdoff/small-school/gateway/heartbeat',
    '{"t":"2027-01-01T00:00:00Z"}',
    aside('time-in-future'),
  ],
  [
    'out of range is kept as it came; its quality is a matter of reading',
    VOLTAGE,
    '{"t":0,"v":9999}',
    ['unit-1/control-voltage 1970-01-01T00:00:00.000Z 9999 good'],
  ],
  ['1 MB of blanks and a number', VOLTAGE, ' '.repeat(1_000_000) + '1', aside('payload-too-large')],
  [
    'more entries than may be taken',
    VOLTAGE,
    `{"t0":0,"dt":1,"v":[${'1,'.repeat(100_000)}1]}`,
    aside('too-many-entries'),
  ],
  ['binary', CALL, Uint8Array.of(0, 1, 2, 0xff, 0xfe), aside('payload-not-utf8')],
  ['binary that is UTF-8', CALL, Uint8Array.of(0, 1, 2), aside('payload-not-json')],
  ['empty', CALL, '', aside('payload-empty')],
  ['not UTF-8', CALL, Buffer.from('"ge\xf6ffnet"', 'latin1'), aside('payload-not-utf8')],
  ['deep nesting', CALL, deep(400_000), aside('form-not-known')],
  ['deep nesting in a value', CALL, `{"t":0,"v":${deep(100_000)}}`, aside('form-not-known')],
  [
    'deep nesting beside a good entry',
    CALL,
    `[{"t":0,"v":1},${deep(100_000)}]`,
    ['unit-1/cooling-call 1970-01-01T00:00:00.000Z 1 good', ...aside('form-not-known')],
  ],
  [
    'deep nesting in a signal',
    UNIT,
    `{"t":0,"signals":{"cooling-call":${deep(100_000)},"control-voltage":24}}`,
    ['unit-1/control-voltage 1970-01-01T00:00:00.000Z 24 good', ...aside('value-not-known')],
  ],
  ['signals that are a list', UNIT, '{"t":0,"signals":[1]}', aside('form-not-known')],
  ['no signals', UNIT, '{"t":0}', aside('form-not-known')],
  ['a scalar on a device topic', UNIT, '1', aside('form-not-known')],
];

test.each(TABLE)('%s', (_what, topic, payload, says) => {
  expect(told(decodeWith(CATALOGUE, { topic, payload, receivedAt: NOW }))).toEqual(says);
});

describe('what is kept of it', () => {
  const keep = (topic: string, payload: string) =>
    decodeWith(CATALOGUE, { topic, payload, receivedAt: NOW }).rejected.map((entry) => ({
      text: Buffer.from(entry.payload).toString(),
      bytes: entry.payloadBytes,
    }));

  test('an unknown point keeps its whole payload, as it came', () => {
    const payload = ` {"t":[${'0,'.repeat(2_000)}0],"v":1} `;
    expect(keep('holdoff/small-school/unit-9/cooling-call', payload)).toEqual([
      { text: payload, bytes: payload.length },
    ]);
  });

  test('so does a future time', () => {
    const payload = '{"t": "2027-01-01T00:00:00Z", "v": 1}';
    expect(keep(CALL, payload)).toEqual([{ text: payload, bytes: payload.length }]);
  });

  test('others keep their first 1,024 bytes', () => {
    const payload = 'x'.repeat(5_000);
    expect(keep(CALL, payload)).toEqual([{ text: payload.slice(0, 1_024), bytes: 5_000 }]);
  });

  test('the detail names the point and shows what was wrong, in bounds and without U+0000', () => {
    const payload = JSON.stringify({ t: 0, v: `\u0000${'long '.repeat(100)}` });
    const [entry] = decodeWith(CATALOGUE, { topic: CALL, payload, receivedAt: NOW }).rejected;
    expect(entry!.detail).toMatch(
      /^unit-1\/cooling-call: the value isn’t one that this signal can have: "\uFFFDlong/,
    );
    expect(entry!.detail.length).toBeLessThan(200);
  });
});
