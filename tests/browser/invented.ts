import { formatInstant, parseInstant, SECOND, type Instant } from '../../shared/base/instant.ts';
import type { UnitPhase } from '../../shared/inference/standing.ts';
import type { SignalName } from '../../shared/telemetry/signals.ts';
import type { EventAnswer } from '../../shared/wire/event-answer.ts';
import type {
  BoardAnswer,
  BoardSite,
  SpaceStatus,
  Strip,
  UnitStatus,
  WireUnitStanding,
} from '../../shared/wire/status.ts';

/** An invented board, for drawing and looking at the page without a server: every state a unit can be in. */
export const NOW: Instant = parseInstant('2026-03-03T20:07:32Z')!;
export const at = (seconds: number): string => formatInstant(NOW + seconds * SECOND);
const point = (seconds: number) => ({ earliest: at(seconds), latest: at(seconds) });

type Past = readonly (readonly [UnitPhase, number])[];

/** A past of 2 h that ends with `tail`: cycles of a run, its off-cycle delay and rest. */
function past(on: number, off: number, tail: Past): Strip {
  const phases: [UnitPhase, number][] = [...tail].map(([phase, length]) => [phase, length]);
  let left = 7200 - tail.reduce((sum, [, length]) => sum + length, 0);
  while (left > 0) {
    for (const [phase, length] of [
      ['ready', off - 210],
      ['off-delay', 210],
      ['running', on],
    ] as const) {
      if (left <= 0) break;
      phases.unshift([phase, Math.min(length, left)]);
      left -= length;
    }
  }
  let start = 0;
  const placed = phases.map(([phase, length]) => {
    const end = start + length;
    const entry = { phase, start, end, certainty: 'certain' as const, event: null };
    start = end;
    return entry;
  });
  return { from: at(-7200), to: at(0), phases: placed.filter((entry) => entry.phase !== 'ready') };
}

export const standing = (over: Partial<WireUnitStanding>): WireUnitStanding => ({
  phase: 'ready',
  since: null,
  certainty: 'certain',
  cause: null,
  causeCertainty: null,
  pending: [],
  call: null,
  until: null,
  untilFrom: null,
  overdue: false,
  startsLastHour: 3,
  lastSeen: {},
  event: null,
  ...over,
});

export const SIGNALS: SignalName[] = [
  'cooling-call',
  'compressor-output',
  'lockout-alarm',
  'control-voltage',
];

interface UnitSketch {
  readonly id: string;
  readonly name: string;
  readonly space: string;
  readonly strip: Strip;
  readonly standing: Partial<WireUnitStanding>;
}
const unit = (sketch: UnitSketch): UnitStatus => ({
  panel: 'panel-a',
  role: null,
  equipment: 'cooling-only',
  signals: SIGNALS,
  dataAt: at(-1),
  knownThrough: at(-1),
  stopped: null,
  ...sketch,
  standing: standing(sketch.standing),
});

const space = (id: string, name: string, units: string[], over: Partial<SpaceStatus> = {}): SpaceStatus => ({
  id,
  name,
  units,
  cooling: 'all',
  since: null,
  able: units.length,
  installed: units.length,
  needed: 1,
  temperature: { t: at(-20), value: 24.6 },
  temperatureLimit: 30,
  knownThrough: at(-1),
  stopped: null,
  ...over,
});

const site = (over: Pick<BoardSite, 'id' | 'name' | 'units' | 'spaces'> & Partial<BoardSite>): BoardSite => ({
  timeZone: 'America/Chicago',
  dataAt: at(-1),
  watchedThrough: at(-1),
  inferencePending: 0,
  openEvents: [],
  panels: [
    {
      id: 'panel-a',
      name: 'Panel A',
      units: over.units.map(({ id }) => id),
      nominalVoltage: 240,
      power: 'present',
      since: null,
      lineVoltage: { t: at(-1), value: 239.4 },
      generator: false,
      restarting: [],
      knownThrough: at(-1),
      stopped: null,
    },
  ],
  gateways: [{ id: 'gateway', heartbeatSeconds: 30, lastLife: at(-1), silentSince: null }],
  ...over,
});

const running = (seconds: number): Partial<WireUnitStanding> => ({
  phase: 'running',
  since: point(-seconds),
  call: true,
});

const pineRidge = site({
  id: 'pine-ridge',
  name: 'Pine Ridge shelter',
  units: [
    unit({
      id: 'unit-1',
      name: 'Unit 1',
      space: 'shelter',
      strip: past(700, 400, [['running', 720]]),
      standing: running(720),
    }),
    unit({
      id: 'unit-2',
      name: 'Unit 2',
      space: 'shelter',
      strip: past(600, 500, [
        ['running', 370],
        ['soft-lockout', 210],
        ['running', 41],
        ['hard-lockout', 737],
      ]),
      standing: {
        phase: 'hard-lockout',
        since: point(-737),
        call: true,
        cause: 'high-pressure',
        causeCertainty: 'certain',
        event: 'hard',
      },
    }),
  ],
  spaces: [space('shelter', 'Shelter', ['unit-1', 'unit-2'], { cooling: 'reduced', able: 1 })],
});

const room = (number: number, strip: Strip, over: Partial<WireUnitStanding>): UnitStatus =>
  unit({ id: `room-${number}`, name: `Room ${number}`, space: `room-${number}`, strip, standing: over });

const harrowUnits = [
  room(4, past(420, 900, []), { call: false }),
  room(
    7,
    past(500, 800, [
      ['running', 300],
      ['soft-lockout', 127],
    ]),
    {
      phase: 'soft-lockout',
      since: point(-127),
      until: point(83),
      untilFrom: 'recorded',
      call: true,
      cause: 'low-pressure',
      causeCertainty: 'probable',
      event: 'soft',
    },
  ),
  room(
    9,
    past(400, 700, [
      ['running', 380],
      ['off-delay', 162],
    ]),
    { phase: 'off-delay', since: point(-162), until: point(48), untilFrom: 'recorded', call: true },
  ),
  room(
    11,
    past(480, 760, [
      ['running', 400],
      ['off-delay', 130],
    ]),
    {
      phase: 'off-delay',
      since: { earliest: at(-140), latest: at(-130) },
      until: { earliest: at(70), latest: at(80) },
      untilFrom: 'assumed',
      call: false,
    },
  ),
  room(
    12,
    past(520, 700, [
      ['no-power', 60],
      ['power-up-delay', 64],
    ]),
    { phase: 'power-up-delay', since: point(-64), until: point(77), untilFrom: 'recorded', call: true },
  ),
  room(
    13,
    past(520, 760, [
      ['running', 310],
      ['stopped', 14],
    ]),
    { phase: 'stopped', since: point(-14), pending: ['cause'], call: true },
  ),
  room(14, past(460, 800, [['not-known', 840]]), {
    phase: 'not-known',
    since: point(-840),
    lastSeen: { 'compressor-output': { t: at(-840), value: 1 } },
  }),
  room(
    15,
    past(460, 820, [
      ['running', 760],
      ['undervoltage-hold', 90],
    ]),
    {
      phase: 'undervoltage-hold',
      since: point(-90),
      until: point(120),
      untilFrom: 'recorded',
      call: true,
      event: 'hold',
    },
  ),
];
const harrowLane = site({
  id: 'harrow-lane',
  name: 'Harrow Lane School',
  units: harrowUnits,
  spaces: harrowUnits.map(({ id, name }) =>
    space(id, name, [id], id === 'room-14' ? { cooling: 'not-known', able: 0 } : {}),
  ),
  gateways: [
    { id: 'gateway-west', heartbeatSeconds: 30, lastLife: at(-1), silentSince: null },
    { id: 'gateway-east', heartbeatSeconds: 30, lastLife: at(-840), silentSince: at(-840) },
  ],
});

const fine = (id: string, name: string, count: number): BoardSite => {
  const units = Array.from({ length: count }, (_, index) =>
    room(index + 1, past(420 + index * 40, 800, []), index % 2 ? running(300 + index) : { call: false }),
  );
  return site({ id, name, units, spaces: units.map((each) => space(each.id, each.name, [each.id])) });
};

export const board = (): BoardAnswer => ({
  serverTime: at(0),
  epoch: 'invented',
  revision: 1,
  cursor: null,
  sites: [
    pineRidge,
    harrowLane,
    fine('quarry-road', 'Quarry Road shelter', 2),
    { ...fine('mill-street', 'Mill Street School', 6), ...softened() },
  ],
});

/** a fine site where one unit waits by itself */
function softened(): Pick<BoardSite, 'units'> {
  const { units } = fine('mill-street', 'Mill Street School', 6);
  const waiting = room(
    3,
    past(500, 800, [
      ['running', 300],
      ['soft-lockout', 60],
    ]),
    {
      phase: 'soft-lockout',
      since: point(-60),
      until: point(150),
      untilFrom: 'recorded',
      call: true,
      cause: 'pressure',
      causeCertainty: 'possible',
      event: 'soft',
    },
  );
  return { units: units.map((each) => (each.id === 'room-3' ? waiting : each)) };
}

export const event = (over: Partial<EventAnswer>): EventAnswer => ({
  id: 'soft',
  site: 'pine-ridge',
  panel: 'panel-a',
  unit: 'unit-2',
  space: 'shelter',
  kind: 'soft-lockout',
  cause: 'pressure',
  start: point(-988),
  end: point(-778),
  certainty: 'certain',
  causeCertainty: 'possible',
  pending: [],
  measures: { offSeconds: [209.9, 210.1] },
  candidates: [],
  evidence: [],
  members: [],
  discriminator: '',
  replaces: [],
  revision: 1,
  inferredAt: at(-700),
  ...over,
});

/** Forty-two sites, 1,000 units, all fine but one. */
export function thousandUnits(): BoardAnswer {
  const sites = Array.from({ length: 42 }, (_, i) =>
    fine(`site-${i + 1}`, `Site ${i + 1}`, i === 41 ? 16 : 24),
  );
  return { ...board(), sites };
}
