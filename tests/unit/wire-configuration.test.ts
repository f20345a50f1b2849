import { describe, expect, test } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import type { Site } from '../../shared/telemetry/site.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';

const UNIT = { id: 'unit-1', panel: 'panel-a', points: [{ signal: 'cooling-call' }] };
const DOCUMENT = { timeZone: 'America/Chicago', panels: [{ id: 'panel-a' }], units: [UNIT] };

function resolved(document: unknown): Site {
  const parsed = parseConfiguration('rowan', document);
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return parsed.site;
}

const pointers = (document: unknown, id = 'rowan'): string[] => {
  const parsed = parseConfiguration(id, document);
  return parsed.ok ? [] : parsed.faults.map(({ pointer }) => pointer);
};

/** The document of contract section 3, whole. */
const CONTRACT = {
  name: 'Harrow Lane School',
  timeZone: 'America/Chicago',
  address: '…',
  access: '…',
  gateways: [{ id: 'gateway', heartbeatSeconds: null, clockUncertainty: 1.0, clockOffsets: [] }],
  spaces: [
    {
      id: 'room-12',
      name: 'Room 12',
      limits: { temperature: 30 },
      unitsNeeded: 1,
      inUse: [{ days: 'mon-fri', from: '07:00', to: '16:00' }],
      points: [{ signal: 'space-temperature', reporting: { mode: 'polled', seconds: 60 } }],
    },
  ],
  panels: [
    {
      id: 'panel-a',
      name: 'Panel A',
      nominalVoltage: 240,
      phases: 1,
      frequency: 60,
      supply: { kind: 'transformer', ratedKva: 50, impedancePercent: 2.0 },
      minimumStartSeparation: 2.0,
      points: [{ signal: 'line-voltage', reporting: { mode: 'polled', seconds: 1 } }],
    },
  ],
  units: [
    {
      id: 'unit-1',
      name: 'Room 12',
      panel: 'panel-a',
      space: 'room-12',
      role: 'lead',
      equipment: 'cooling-only',
      nameplate: { lockedRotorAmps: 96, ratedLoadAmps: 17.9 },
      protection: { offDelay: 210 },
      points: [
        { signal: 'cooling-call', contact: 'normally-open', reporting: { mode: 'on-change' } },
        {
          signal: 'high-pressure',
          contact: 'normally-closed',
          sense: 'isolated',
          reporting: { mode: 'on-change' },
        },
        { signal: 'control-voltage', reporting: { mode: 'polled', seconds: 5 } },
      ],
    },
  ],
  points: [{ signal: 'outdoor-temperature', reporting: { mode: 'polled', seconds: 60 } }],
};

describe('a document', () => {
  test('as the contract shows it is taken as it stands', () => {
    const site = resolved(CONTRACT);
    expect(site.units[0]).toMatchObject({ id: 'unit-1', space: 'room-12', role: 'lead' });
    expect(site.panels[0]!.minimumStartSeparationSeconds).toBe(2);
    expect(site.spaces[0]!.temperatureLimit).toBe(30);
    expect(site.units[0]!.protection.offDelay).toEqual({ value: 210, known: 'recorded' });
  });

  test('needs no more than a time zone', () => {
    expect(resolved({ timeZone: 'UTC' })).toMatchObject({
      id: 'rowan',
      name: 'rowan',
      units: [],
      spaces: [],
    });
  });

  test('that isn’t an object is refused in one sentence', () => {
    for (const document of [null, 7, 'x', [], undefined]) expect(pointers(document)).toEqual(['']);
  });
});

describe('defaults', () => {
  test('of the protection settings are those of handbook 2.1, and assumed', () => {
    const { protection } = resolved(DOCUMENT).units[0]!;
    expect(protection).toEqual({
      offDelay: { value: 210, known: 'assumed' },
      offDelayFrom: { value: 'either', known: 'assumed' },
      powerUpBase: { value: 120, known: 'assumed' },
      powerUpShare: { value: 0.1, known: 'assumed' },
      lowPressureBypass: { value: 120, known: 'assumed' },
      lowPressureRetry: { value: 'either', known: 'assumed' },
      stopsCounted: { value: 'either', known: 'assumed' },
      undervoltageTrip: { value: 18, known: 'assumed' },
      undervoltageStartGrace: { value: 0, known: 'assumed' },
      undervoltageDelayFrom: { value: 'either', known: 'assumed' },
      holdUp: { value: 0, known: 'assumed' },
      tolerance: 0.05,
      settingError: 10,
      startsPerHourLimit: 10,
    });
  });

  test('given as null, a trip is recorded as "this control has none"', () => {
    const site = resolved({ ...DOCUMENT, units: [{ ...UNIT, protection: { undervoltageTrip: null } }] });
    expect(site.units[0]!.protection.undervoltageTrip).toEqual({ value: null, known: 'recorded' });
  });

  test('without gateways there is one, called gateway, and every point is on it', () => {
    const site = resolved(DOCUMENT);
    expect(site.gateways).toEqual([
      { id: 'gateway', heartbeatSeconds: null, clockUncertaintySeconds: 1, clockOffsets: [] },
    ]);
    expect(site.units[0]!.points[0]!.gateway).toBe('gateway');
  });

  test('with gateways a point that names none is on the first', () => {
    const site = resolved({ ...DOCUMENT, gateways: [{ id: 'east' }, { id: 'west' }] });
    expect(site.units[0]!.points[0]!.gateway).toBe('east');
  });

  test('without spaces the units share one', () => {
    const site = resolved({ ...DOCUMENT, units: [UNIT, { ...UNIT, id: 'unit-2' }] });
    expect(site.spaces.map(({ id }) => id)).toEqual(['space']);
    expect(site.units.map(({ space }) => space)).toEqual(['space', 'space']);
  });

  test('in a site with spaces a unit that names none is its own', () => {
    const units = [
      { ...UNIT, space: 'room' },
      { ...UNIT, id: 'unit-2', name: 'Shed' },
    ];
    const site = resolved({ ...DOCUMENT, spaces: [{ id: 'room' }], units });
    expect(site.units.map(({ space }) => space)).toEqual(['room', 'unit-2']);
    expect(site.spaces.find(({ id }) => id === 'unit-2')!.name).toBe('Shed');
  });

  test('pressure contacts are taken as normally closed and in the loop, others as normally open', () => {
    const points = [{ signal: 'high-pressure' }, { signal: 'lockout-alarm' }];
    const [high, alarm] = resolved({ ...DOCUMENT, units: [{ ...UNIT, points }] }).units[0]!.points;
    expect([high!.contact, high!.sense]).toEqual(['normally-closed', 'loop']);
    expect([alarm!.contact, alarm!.sense, alarm!.alarmOn]).toEqual(['normally-open', 'own', 'energised']);
  });

  test('clock offsets are put in order', () => {
    const clockOffsets = [
      { from: '2026-03-02T00:00:00Z', seconds: 5 },
      { from: 'always', seconds: 2 },
    ];
    const [gateway] = resolved({ ...DOCUMENT, gateways: [{ id: 'east', clockOffsets }] }).gateways;
    expect(gateway!.clockOffsets).toEqual([
      { from: -Infinity, seconds: 2 },
      { from: seconds(1_772_409_600), seconds: 5 },
    ]);
  });

  test('an alarm contact that several units share is a point of each of them', () => {
    const points = [{ signal: 'lockout-alarm', of: ['unit-1', 'unit-2'] }];
    const site = resolved({ ...DOCUMENT, units: [UNIT, { ...UNIT, id: 'unit-2' }], points });
    for (const unit of site.units)
      expect(unit.points.map(({ device, signal }) => `${device}/${signal}`)).toContain('site/lockout-alarm');
  });
});

/** every fault with its place; the document is right but for it */
const FAULTS: readonly [what: string, document: object, pointers: string[]][] = [
  ['a time zone that isn’t one', { timeZone: 'Mars/Olympus' }, ['/timeZone']],
  ['an offset for a time zone', { timeZone: '+02:00' }, ['/timeZone']],
  ['no time zone', { timeZone: undefined }, ['/timeZone']],
  ['a unit’s panel that isn’t listed', { panels: [] }, ['/units/0/panel']],
  ['a unit without a panel', { units: [{ id: 'unit-1' }] }, ['/units/0/panel']],
  ['a space that isn’t listed', { units: [{ ...UNIT, space: 'loft' }] }, ['/units/0/space']],
  ['two devices of one id', { panels: [{ id: 'panel-a' }, { id: 'panel-a' }] }, ['/panels/1/id']],
  ['a unit called as the site', { units: [{ ...UNIT, id: 'site' }] }, ['/units/0/id']],
  [
    'a unit called as the gateway that isn’t listed',
    { units: [{ ...UNIT, id: 'gateway' }] },
    ['/units/0/id'],
  ],
  ['an id that is no slug', { units: [{ ...UNIT, id: 'Unit 1' }] }, ['/units/0/id']],
  ['an id that is too long', { units: [{ ...UNIT, id: 'u'.repeat(64) }] }, ['/units/0/id']],
  [
    'a mistyped setting',
    { units: [{ ...UNIT, protection: { offdelay: 210 } }] },
    ['/units/0/protection/offdelay'],
  ],
  [
    'an off-cycle delay below 30 s',
    { units: [{ ...UNIT, protection: { offDelay: 29 } }] },
    ['/units/0/protection/offDelay'],
  ],
  [
    'an off-cycle delay above 300 s',
    { units: [{ ...UNIT, protection: { offDelay: 301 } }] },
    ['/units/0/protection/offDelay'],
  ],
  [
    'a choice that isn’t one',
    { units: [{ ...UNIT, protection: { stopsCounted: 'both' } }] },
    ['/units/0/protection/stopsCounted'],
  ],
  [
    'a hold-up given twice',
    { units: [{ ...UNIT, holdUp: 1, protection: { holdUp: 2 } }] },
    ['/units/0/holdUp'],
  ],
  ['a signal that isn’t one', { points: [{ signal: 'mood' }] }, ['/points/0/signal']],
  ['gateway life as a point', { points: [{ signal: 'life' }] }, ['/points/0/signal']],
  ['a signal on the wrong device', { points: [{ signal: 'cooling-call' }] }, ['/points/0/signal']],
  [
    'a signal twice on one device',
    { units: [{ ...UNIT, points: [{ signal: 'fan-call' }, { signal: 'fan-call' }] }] },
    ['/units/0/points/1/signal'],
  ],
  [
    'a gateway that isn’t listed',
    { units: [{ ...UNIT, points: [{ signal: 'fan-call', gateway: 'west' }] }] },
    ['/units/0/points/0/gateway'],
  ],
  [
    'polling without a period',
    { points: [{ signal: 'smoke', reporting: { mode: 'polled' } }] },
    ['/points/0/reporting/seconds'],
  ],
  [
    'a period for what reports on change',
    { points: [{ signal: 'smoke', reporting: { mode: 'on-change', seconds: 5 } }] },
    ['/points/0/reporting/seconds'],
  ],
  ['a deadband for a contact', { points: [{ signal: 'smoke', deadband: 1 }] }, ['/points/0/deadband']],
  [
    'a polarity for an analog',
    { points: [{ signal: 'outdoor-temperature', contact: 'normally-open' }] },
    ['/points/0/contact'],
  ],
  ['a scale of nothing', { points: [{ signal: 'outdoor-temperature', scale: 0 }] }, ['/points/0/scale']],
  [
    'a range upside down',
    { points: [{ signal: 'outdoor-temperature', range: [50, -40] }] },
    ['/points/0/range'],
  ],
  [
    'a sense that the signal can’t have',
    { units: [{ ...UNIT, points: [{ signal: 'cooling-call', sense: 'loop' }] }] },
    ['/units/0/points/0/sense'],
  ],
  [
    'alarmOn for another contact',
    { points: [{ signal: 'smoke', alarmOn: 'released' }] },
    ['/points/0/alarmOn'],
  ],
  ['a shared alarm that names nobody', { points: [{ signal: 'lockout-alarm' }] }, ['/points/0/of']],
  [
    'a shared alarm of a unit that isn’t',
    { points: [{ signal: 'lockout-alarm', of: ['unit-9'] }] },
    ['/points/0/of/0'],
  ],
  [
    'an offset from no instant',
    { gateways: [{ id: 'east', clockOffsets: [{ from: 'noon', seconds: 1 }] }] },
    ['/gateways/0/clockOffsets/0/from'],
  ],
  [
    'a time of day that isn’t one',
    { spaces: [{ id: 'room', inUse: [{ days: 'mon', from: '25:00', to: '26:00' }] }] },
    ['/spaces/0/inUse/0/from', '/spaces/0/inUse/0/to'],
  ],
  [
    'a day that isn’t one',
    { spaces: [{ id: 'room', inUse: [{ days: 'funday', from: '07:00', to: '08:00' }] }] },
    ['/spaces/0/inUse/0/days'],
  ],
  [
    'a pointer that isn’t one',
    { points: [{ signal: 'smoke', source: { topic: 'a', pointer: 'inputs' } }] },
    ['/points/0/source/pointer'],
  ],
];

describe('faults', () => {
  test.each(FAULTS)('%s', (_, change, expected) => {
    const document = JSON.parse(JSON.stringify({ ...DOCUMENT, ...change })) as unknown;
    expect(pointers(document)).toEqual(expected);
  });

  test('all at once, each told once and with what to do', () => {
    const parsed = parseConfiguration('rowan', {
      timeZone: 5,
      units: [{ id: 'A b', protection: { offDelay: 20, undervoltageTrip: 'none' } }],
    });
    if (parsed.ok) throw new Error('taken');
    expect(parsed.faults.map(({ pointer }) => pointer).sort()).toEqual([
      '/timeZone',
      '/units/0/id',
      '/units/0/panel',
      '/units/0/protection/offDelay',
      '/units/0/protection/undervoltageTrip',
    ]);
    for (const { message } of parsed.faults) expect(message).toMatch(/^[A-Z"].*\.$/);
  });

  test('of the site’s own id', () => {
    expect(pointers(DOCUMENT, 'Rowan Street')).toEqual(['']);
  });
});

describe('a name', () => {
  test.each(['Harrow\r\nBcc: all@example.org', 'Room\u0000', 'Room\u2028x'])('%j is refused', (name) => {
    const parsed = parseConfiguration('rowan', { ...DOCUMENT, name, units: [{ ...UNIT, name }] });
    expect(parsed.ok ? [] : parsed.faults).toEqual([
      { pointer: '/name', message: 'Use one line, without control characters.' },
      { pointer: '/units/0/name', message: 'Use one line, without control characters.' },
    ]);
  });
  test('may be in any script', () => {
    expect(resolved({ ...DOCUMENT, name: 'École “Ōtara” – 教室 12' }).name).toBe('École “Ōtara” – 教室 12');
  });
});
