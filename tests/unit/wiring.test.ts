import fc from 'fast-check';
import { createHash } from 'node:crypto';
import { describe, expect, test } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import type { ScenarioBuilding } from '../../shared/building/plan.ts';
import { signalRow, type SignalName } from '../../shared/telemetry/signals.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import type { SiteDocument } from '../../shared/wire/site-document.ts';
import { accept } from '../../shared/wiring/accept.ts';
import { deviceIn, guess, placesOf } from '../../shared/wiring/guess.ts';
import {
  heardOnce,
  joinHeard,
  ratePerMinute,
  timeIn,
  valuesIn,
  type HeardValue,
} from '../../shared/wiring/heard.ts';
import { guessByName } from '../../shared/wiring/names.ts';
import { collapsePattern, expandPattern, matchPattern, patternFault } from '../../shared/wiring/pattern.ts';
import { buildingsAt, SCENARIOS } from '../../shared/building/scenarios/list.ts';
import { runBuilding, START } from '../fixtures/building-run.ts';

const DOCUMENT: SiteDocument = {
  timeZone: 'America/Chicago',
  panels: [{ id: 'panel-a', nominalVoltage: 240 }],
  units: [1, 2, 3].map((n) => ({ id: `unit-${n}`, name: `Room ${10 + n}`, panel: 'panel-a' })),
};
const PLACES = placesOf(DOCUMENT);
const ALONE = { contacts: [], nominalVoltages: [240] };

/** A source with its values, seconds apart from one another. */
function heard(
  topic: string,
  values: readonly (readonly [at: number, value: unknown])[],
  pointer = '',
): HeardValue {
  const source = { topic, pointer, kind: 'topic', time: null } as const;
  return values.map(([at, value]) => heardOnce(source, value, START + seconds(at))).reduce(joinHeard);
}

describe('what is heard', () => {
  test('is told by its form: contacts in words or numbers, measures, times and texts', () => {
    const form = (...values: unknown[]) =>
      heard(
        'x',
        values.map((value, i) => [i, value]),
      ).form;
    expect(form(0, 1, 1)).toBe('contact');
    expect(form('open', 'CLOSED', true)).toBe('contact');
    expect(form(0, 1, 24.5)).toBe('number');
    expect(form('23.9')).toBe('number');
    expect(form(1_767_225_600_000)).toBe('time');
    expect(form('2026-03-02T08:15:00Z')).toBe('time');
    expect(form('standby', 1)).toBe('text');
  });

  test('keeps its rate, its bounds and when it changed', () => {
    const one = heard('x', [[0, 0], [5, 0], [10, 1], [15, 1], [20, 0]]); // prettier-ignore
    expect(ratePerMinute(one)).toBe(12);
    expect(one.numbers).toMatchObject({ count: 5, sum: 2, least: 0, most: 1, steps: 2, travel: 2 });
    expect(one.numbers!.changes.map(([t, v]) => [(t - START) / 1e6, v])).toEqual([[0, 0], [10, 1], [20, 0]]); // prettier-ignore
  });

  test('is the same from whatever parts it is joined', () => {
    const values = fc.array(fc.constantFrom(0, 1, 20.5, 23), { minLength: 2, maxLength: 30 });
    fc.assert(
      fc.property(values, fc.nat(), (given, cut) => {
        const timed = given.map((value, i) => [i, value] as const);
        const at = 1 + (cut % (given.length - 1));
        const halves = joinHeard(heard('x', timed.slice(0, at)), heard('x', timed.slice(at)));
        const whole = heard('x', timed);
        expect(halves).toEqual({
          ...whole,
          numbers: { ...whole.numbers, travel: halves.numbers!.travel, sum: halves.numbers!.sum },
        });
        expect(halves.numbers!.travel).toBeCloseTo(whole.numbers!.travel, 9);
        expect(halves.numbers!.sum).toBeCloseTo(whole.numbers!.sum, 9);
      }),
      { numRuns: 500 },
    );
  });

  test('in a message: each value with its place, and where it says when', () => {
    const values = valuesIn({
      ts: '2026-03-02T08:15:00Z',
      inputs: [{ state: 1 }, { state: 0 }],
      'a/b': 3,
      u: { t: 1, v: [1, 2] },
    });
    expect(values).toEqual([
      ['/ts', '2026-03-02T08:15:00Z'],
      ['/inputs/0/state', 1],
      ['/inputs/1/state', 0],
      ['/a~1b', 3],
      ['/u', 2],
    ]);
    expect(timeIn(values)).toBe('/ts');
    expect(valuesIn(7)).toEqual([['', 7]]);
    expect(valuesIn(Array.from({ length: 500 }, () => ({ a: 1 }))).length).toBeLessThanOrEqual(40);
  });
});

describe('names', () => {
  test.each([
    ['plant/7/di/y1', 'cooling-call'],
    ['plant/u2/coolingCall/state', 'cooling-call'],
    ['site/ahu/compressor/run', 'compressor-output'],
    ['plant/verdichter/status', 'compressor-output'],
    ['x/HPS', 'high-pressure'],
    ['x/low_pressure_switch', 'low-pressure'],
    ['plant/cooling/1/alarm', 'lockout-alarm'],
    ['x/24VAC', 'control-voltage'],
    ['panel/mains_voltage', 'line-voltage'],
    ['x/supplyAirTemp', 'supply-air-temperature'],
    ['x/OAT', 'outdoor-temperature'],
    ['raum/12/temperatur', 'space-temperature'],
    ['x/compressor_amps', 'compressor-current'],
  ])('%s says %s', (name, signal) => expect(guessByName(name)?.signal).toBe(signal));

  test.each(['plant/7/di/3', 'x/uptime', 'firmware/version'])('%s says nothing', (name) =>
    expect(guessByName(name)).toBeNull(),
  );

  test('tell whose it is by id, name or number, and nobody’s where two go by it', () => {
    expect(deviceIn('plant/unit-2/call', PLACES, 'cooling-call')).toBe('unit-2');
    expect(deviceIn('plant/unit2/call', PLACES, 'cooling-call')).toBe('unit-2');
    expect(deviceIn('plant/u02/call', PLACES, 'cooling-call')).toBe('unit-2');
    expect(deviceIn('plant/room13/call', PLACES, 'cooling-call')).toBe('unit-3');
    expect(deviceIn('plant/x/call', PLACES, 'cooling-call')).toBeNull();
    expect(deviceIn('plant/mains', PLACES, 'line-voltage')).toBe('panel-a'); // the only one
  });
});

describe('a guess', () => {
  test('by name and behaviour agreeing says both', () => {
    const volts = heard(
      'plant/unit-1/24vac',
      Array.from({ length: 20 }, (_, i) => [i, 26 + 0.3 * (i % 3)]),
    );
    expect(guess(volts, PLACES, ALONE)).toMatchObject({
      signal: 'control-voltage',
      device: 'unit-1',
      certainty: 'probable',
    });
    expect(guess(volts, PLACES, ALONE)!.because).toMatch(/^its name says “24vac”, and it lies between/);
  });

  test('a contact that another follows by a second is the call, the other its output', () => {
    const call: (readonly [number, number])[] = [];
    const output: (readonly [number, number])[] = [];
    for (let i = 0; i < 5; i++) {
      const at = 1_000 * i;
      call.push([at, 1], [at + 600, 0]);
      // once it waits for its off-cycle delay
      output.push([at + (i === 2 ? 140 : 1), 1], [at + 601, 0]);
    }
    const [a, b] = [heard('plant/di/1', call), heard('plant/di/2', output)];
    const around = { ...ALONE, contacts: [a, b] };
    expect(guess(a, PLACES, around)).toMatchObject({ signal: 'cooling-call', certainty: 'probable' });
    expect(guess(b, PLACES, around)).toMatchObject({ signal: 'compressor-output', certainty: 'probable' });
    expect(guess(b, PLACES, around)!.because).toContain('plant/di/1');
  });

  test('nothing is guessed of texts, times and values that have said next to nothing', () => {
    expect(guess(heard('x/mode', [[0, 'auto']]), PLACES, ALONE)).toBeNull();
    expect(guess(heard('x/3', [[0, 1], [1, 0]]), PLACES, ALONE)).toBeNull(); // prettier-ignore
    expect(guess(heard('x/4', [[0, 26]]), PLACES, ALONE)).toBeNull();
  });

  test('a name that says contact where numbers come isn’t believed', () => {
    expect(guess(heard('x/alarm', [[0, 17.5]]), PLACES, ALONE)).toBeNull();
  });
});

/** Points of one simulated building as they would be heard under names that say nothing, in an order that says nothing. */
function anonymous(each: ScenarioBuilding, hours: number) {
  const { site, entries } = runBuilding(each, hours * 3600);
  const found = new Map<string, HeardValue>();
  for (const { t, device, signals } of entries)
    for (const [signal, value] of Object.entries(signals)) {
      const key = `${device}/${signal}`;
      const topic = `in/${createHash('sha256').update(`${site.id}/${key}`).digest('hex').slice(0, 8)}`;
      const once = heardOnce({ topic, pointer: '', kind: 'topic', time: null }, value, t);
      const before = found.get(key);
      found.set(key, before ? joinHeard(before, once) : once);
    }
  return { site, found: [...found].filter(([key]) => !key.endsWith('/life')) };
}

test('points of simulated buildings are known by what they do, their names taken away', () => {
  const told: Record<string, { right: number; measure: number; of: number }> = {};
  let silent = 0;
  const demo = SCENARIOS.find(({ name }) => name === 'demo')!;
  for (const each of buildingsAt(demo, START)) {
    const { site, found } = anonymous(each, 12);
    const nominalVoltages = site.panels.map((panel) => panel.nominalVoltage);
    for (const [key, one] of found) {
      const [device, signal] = key.split('/') as [string, SignalName];
      // contacts of one unit come from one gateway: whoever wires knows that much
      const contacts = found.filter(
        ([other, { form }]) => form === 'contact' && other.startsWith(`${device}/`),
      );
      const around = { contacts: contacts.map(([, heard]) => heard), nominalVoltages };
      const said = guess(one, [], around);
      if (!said) {
        silent++;
        continue;
      }
      const count = (told[said.certainty] ??= { right: 0, measure: 0, of: 0 });
      count.of++;
      if (said.signal === signal) count.right++;
      if (signalRow(said.signal).measure === signalRow(signal).measure) count.measure++;
    }
  }
  console.log('guesses by behaviour alone:', JSON.stringify(told), 'nothing said of', silent);
  // measured: probable 13 of 13; possible 21 of 34 (a call and its output move together here), all of the right measure
  expect(told['probable']!.right / told['probable']!.of).toBeGreaterThanOrEqual(0.9);
  expect(told['possible']!.right / told['possible']!.of).toBeGreaterThanOrEqual(0.5);
  expect(told['possible']!.measure / told['possible']!.of).toBeGreaterThanOrEqual(0.9);
});

describe('a pattern', () => {
  test.each([
    ['', /Write a topic/],
    ['plant/di/call', /once/],
    ['{unit}/{unit}/call', /once/],
    ['plant/{unit}/#', /for nothing here/],
    ['plant/{unit}/a+', /whole level/],
  ])('%s is none', (pattern, says) => expect(patternFault(pattern)).toMatch(says));

  const word = fc.stringMatching(/^[a-z0-9]{1,8}$/);
  test('expands to every unit that it matches and collapses again', () => {
    fc.assert(
      fc.property(fc.array(word, { minLength: 1, maxLength: 4 }), fc.nat(), word, (levels, at, unit) => {
        const pattern = levels.with(at % levels.length, '{unit}').join('/');
        const topic = pattern.replace('{unit}', unit);
        expect(patternFault(pattern)).toBeNull();
        expect(matchPattern(pattern, topic)).toBe(unit);
        expect(matchPattern(collapsePattern(topic, unit)!, topic)).toBe(unit);
        expect(matchPattern(pattern, `${topic}/more`)).toBeNull();
      }),
      { numRuns: 1_000 },
    );
  });

  const ALL = [1, 2, 3, 4].flatMap(
    (n) =>
    ['y1', 'hps', 'misc'].map((input) => heard(`plant/${n}/di/${input}/state`, [[0, 0], [9, 1], [20, 0]])), // prettier-ignore
  );

  test('proposes points for every unit, each signal by its name; what it can’t place it says', () => {
    const { proposals, left } = expandPattern('plant/{unit}/di/+/state', null, ALL, PLACES);
    expect(proposals.map(({ device, signal, heard: { topic } }) => [device, signal, topic])).toEqual(
      [1, 2, 3].flatMap((n) => [
        [`unit-${n}`, 'cooling-call', `plant/${n}/di/y1/state`],
        [`unit-${n}`, 'high-pressure', `plant/${n}/di/hps/state`],
      ]),
    );
    expect(left.map(({ why }) => why)).toContain('no unit goes by “4”');
    expect(left.map(({ why }) => why)).toContain('its name doesn’t say which signal it is');
  });

  test('accepted, it stands in the document, which is still one that is taken', () => {
    const { proposals } = expandPattern('plant/{unit}/di/y1/state', 'cooling-call', ALL, PLACES);
    const before: SiteDocument = {
      ...DOCUMENT,
      units: DOCUMENT.units!.map((unit) =>
        unit.id === 'unit-2'
          ? { ...unit, points: [{ signal: 'cooling-call', contact: 'normally-closed' }] }
          : unit,
      ),
    };
    const { document, changes } = accept(before, proposals);
    expect(parseConfiguration('elm', document).ok).toBe(true);
    expect(document.units![0]!.points).toEqual([
      { signal: 'cooling-call', source: { topic: 'plant/1/di/y1/state' }, reporting: { mode: 'on-change' } },
    ]);
    // what somebody has set of a point stays
    expect(document.units![1]!.points![0]).toMatchObject({
      contact: 'normally-closed',
      source: { topic: 'plant/2/di/y1/state' },
    });
    expect(changes.map(({ device, instead }) => [device, instead])).toEqual([
      ['unit-1', null],
      ['unit-2', 'its own topic'],
      ['unit-3', null],
    ]);
    expect(accept(document, proposals).document).toEqual(document);
  });
});
