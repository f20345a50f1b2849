import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { REFERENCE_SETTINGS } from '../../shared/control/settings.ts';
import { EVENT_CAUSES, type EventCause, type EventKind } from '../../shared/inference/event.ts';
import { observabilityOf, type Observability } from '../../shared/inference/observability.ts';
import { NOT_YET } from '../../shared/inference/observability/not-yet.ts';
import type { Site } from '../../shared/telemetry/site.ts';
import {
  ALARM,
  CALL,
  FULL,
  HIGH,
  LOW,
  oneUnit,
  OUTPUT,
  VOLTAGE,
  VOLTAGE_POLLED,
} from '../fixtures/unit-record.ts';

/** What a unit's wiring lets one know (handbook 3 and 4); the scoring bench holds the same statement against histories. */
const of = (site: Site): Observability => observabilityOf(site, 'unit-1')!;
const row = (found: Observability, kind: EventKind, cause: EventCause | null) =>
  found.kinds.find((one) => one.kind === kind && one.cause === cause)!;
const known = (points: readonly object[], kind: EventKind, cause: EventCause | null, protection = {}) => {
  const { known: that, causeKnown } = row(of(oneUnit(points, protection)), kind, cause);
  return [that, causeKnown];
};
const POLLED_CALL = { ...CALL, reporting: { mode: 'polled', seconds: 10 } };
const UPSTREAM = { ...CALL, sense: 'upstream' };
const SETTLED = { undervoltageTrip: null };

describe('how surely a thing can be known', () => {
  it.each([
    // rule 4: alarm with the output off and the call present, control power known present
    ['all wired', FULL, 'hard-lockout', 'high-pressure', ['certain', 'certain']],
    // rule 4: the alarm alone
    ['the alarm alone', [ALARM], 'hard-lockout', 'high-pressure', ['probable', 'possible']],
    [
      'no alarm',
      [CALL, OUTPUT, HIGH, LOW, VOLTAGE],
      'hard-lockout',
      'high-pressure',
      ['probable', 'certain'],
    ],
    ['the output alone', [OUTPUT], 'hard-lockout', 'high-pressure', ['not-at-all', 'not-at-all']],
    // rule 2: without a call contact the best is possible
    [
      'no call',
      [OUTPUT, ALARM, HIGH, LOW, VOLTAGE],
      'compressor-run',
      'high-pressure',
      ['certain', 'possible'],
    ],
    [
      'a call sensed upstream',
      [UPSTREAM, OUTPUT, HIGH],
      'soft-lockout',
      'high-pressure',
      ['possible', 'possible'],
    ],
    // rule 2: the call is fed from control power
    ['no voltage', [CALL, OUTPUT], 'compressor-run', 'call-ended', ['certain', 'probable']],
    ['no voltage', [CALL, OUTPUT], 'compressor-run', 'power-lost', ['certain', 'not-at-all']],
    [
      'voltage polled',
      [CALL, OUTPUT, VOLTAGE_POLLED],
      'compressor-run',
      'call-ended',
      ['certain', 'probable'],
    ],
    // handbook 3: present over a window only on change
    [
      'call polled',
      [POLLED_CALL, OUTPUT, HIGH, LOW, VOLTAGE],
      'soft-lockout',
      'high-pressure',
      ['probable', 'probable'],
    ],
    // rule 2: time tells without pressure contacts
    [
      'no pressure contacts',
      [CALL, OUTPUT, VOLTAGE],
      'soft-lockout',
      'high-pressure',
      ['certain', 'probable'],
    ],
    ['no pressure contacts', [CALL, OUTPUT, VOLTAGE], 'soft-lockout', 'pressure', ['certain', 'possible']],
    // rule 9
    ['no current', FULL, 'stuck-contactor', null, ['not-at-all', null]],
    ['with current', [...FULL, { signal: 'compressor-current' }], 'stuck-contactor', null, ['certain', null]],
    // rule 7: certain only if control power is known present through the whole off time
    ['all wired', FULL, 'short-cycle', 'delay-not-kept', ['certain', 'certain']],
    ['voltage polled', [OUTPUT, VOLTAGE_POLLED], 'short-cycle', 'delay-not-kept', ['probable', 'probable']],
  ] as const)('%s: %s %s', (_, points, kind, cause, expected) => {
    expect(known(points, kind, cause)).toEqual(expected);
  });

  it('a delay that isn’t recorded is never said not to be kept (handbook 2.1)', () => {
    expect(known(FULL, 'short-cycle', 'delay-not-kept', { offDelay: undefined })[0]).toBe('not-at-all');
    expect(known(FULL, 'setting-mismatch', null, { offDelay: undefined })[0]).toBe('not-at-all');
  });

  it('a control with no undervoltage trip holds for none', () => {
    expect(known(FULL, 'undervoltage-hold', null, SETTLED)[0]).toBe('not-at-all');
  });

  it('one alarm contact for two units proves one of them (rule 4)', () => {
    const site = oneUnit([CALL, OUTPUT]);
    const alarm = { ...oneUnit([ALARM]).units[0]!.points[0]!, device: 'site', of: ['unit-1', 'unit-2'] };
    const unit = { ...site.units[0]!, points: [...site.units[0]!.points, alarm] };
    const found = of({ ...site, units: [unit] });
    expect(row(found, 'hard-lockout', 'high-pressure').known).toBe('probable');
    expect(row(found, 'alarm-circuit-fault', 'unexplained').known).toBe('not-at-all');
  });

  it('every kind with every cause has its row, once', () => {
    const rows = of(oneUnit(FULL)).kinds.map(({ kind, cause }) => `${kind} ${cause}`);
    const all = Object.entries(EVENT_CAUSES).flatMap(([kind, causes]) =>
      causes.length === 0 ? [`${kind} null`] : causes.map((cause) => `${kind} ${cause}`),
    );
    expect(rows.toSorted()).toEqual(all.toSorted());
  });
});

describe('what is said to be not concluded yet', () => {
  const folder = join(import.meta.dirname, '../../shared/inference');
  const folds = readdirSync(folder, { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.ts') && name !== 'event.ts' && !name.startsWith('observability'))
    .map((name) => readFileSync(join(folder, name), 'utf8'))
    .join('\n');
  it('no fold concludes it (else take it from NOT_YET)', () => {
    const words = NOT_YET.map((name) => name.split(': ').at(-1)!);
    expect(words.filter((word) => folds.includes(`'${word}'`))).toEqual([]);
  });
});

describe('what is too short to be seen', () => {
  it('on change: twice the resolution and the debounce; polled: the period', () => {
    const { blind } = of(oneUnit([OUTPUT, VOLTAGE_POLLED]));
    expect(blind.map(({ signal, shortestSeconds }) => [signal, shortestSeconds])).toEqual([
      ['compressor-output', 0.25],
      ['control-voltage', 5],
    ]);
    expect(blind[1]!.says).toBe(
      'The control voltage is looked at every 5 s: what is over sooner can fall between two looks.',
    );
  });
});

describe('the change that would help most for its effort', () => {
  it('costs less at the desk than on the wall, however much the wire would gain', () => {
    const points = [POLLED_CALL, OUTPUT, VOLTAGE];
    const efforts = of(oneUnit(points, { offDelay: undefined })).changes.map(({ effort }) => effort);
    expect(efforts).toEqual(efforts.toSorted((a, b) => EFFORTS.indexOf(a) - EFFORTS.indexOf(b)));
    expect(new Set(efforts)).toEqual(new Set(EFFORTS));
  });

  it('a unit that is wired for everything alone on its panel: its panel’s line and its room are left', () => {
    const all = [...FULL, { signal: 'compressor-current' }];
    expect(of(oneUnit(all, REFERENCE_SETTINGS)).changes.map(({ says }) => says.split(',')[0])).toEqual([
      'Measure the line voltage of panel-a',
      'Measure the temperature of rowan',
    ]);
  });

  it('is none that gains nothing', () => {
    for (const { gains } of of(oneUnit([OUTPUT])).changes) expect(gains.length).toBeGreaterThan(0);
  });

  it('there is no statement for a unit that isn’t there', () => {
    expect(observabilityOf(oneUnit(FULL), 'unit-9')).toBeNull();
  });
});

const EFFORTS = ['reporting', 'recording', 'wiring'] as const;
