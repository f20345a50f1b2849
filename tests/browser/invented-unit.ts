import type { SignalName } from '../../shared/telemetry/signals.ts';
import type { EventAnswer } from '../../shared/wire/event-answer.ts';
import type { AnalogSeries, ContactSeries, SeriesAnswer } from '../../shared/wire/series.ts';
import type { UnitSetting, UnitView, WiredPoint } from '../../shared/wire/unit-view.ts';
import { at, board, event, NOW } from './invented.ts';

/** An invented unit with a hard lockout: its view, its series and its events. Seconds before NOW throughout. */
const CALL: [number, 0 | 1][] = [
  [-5200, 1],
  [-4500, 0],
  [-3600, 1],
  [-3000, 0],
  [-1358, 1],
];
const OUTPUT: [number, 0 | 1][] = [
  [-5200, 1],
  [-4500, 0],
  [-3600, 1],
  [-3000, 0],
  [-1358, 1],
  [-988, 0],
  [-778, 1],
  [-737, 0],
];
const ALARM: [number, 0 | 1][] = [
  [-8000, 0],
  [-737, 1],
];

const point = (seconds: number) => ({ earliest: at(seconds), latest: at(seconds) });
const polled = (seconds: number) => ({ earliest: at(seconds - 5), latest: at(seconds) });

const wired = (signal: SignalName, name: string, over: Partial<WiredPoint> = {}): WiredPoint => ({
  device: 'unit-2',
  signal,
  name,
  kind: 'contact',
  measure: '',
  gateway: 'gateway',
  contact: 'normally-open',
  sense: 'own',
  reporting: { mode: 'on-change' },
  resolution: 0.1,
  of: [],
  ...over,
});
const analog = { kind: 'analog', measure: 'V', reporting: { mode: 'polled', seconds: 5 } } as const;

const setting = (
  name: string,
  value: number | string | null,
  measure: UnitSetting['measure'],
  known: UnitSetting['known'] = 'assumed',
): UnitSetting => ({
  name,
  value,
  measure,
  known,
});

export function unitView(): UnitView {
  const site = board().sites[0]!;
  const unit = site.units[1]!;
  return {
    site: { id: site.id, name: site.name, timeZone: site.timeZone },
    panel: { id: 'panel-a', name: 'Panel A', nominalVoltage: 240, minimumStartSeparation: 2 },
    space: { id: 'shelter', name: 'Shelter', temperatureLimit: 30 },
    serverTime: at(0),
    epoch: 'invented',
    revision: 1,
    watchedThrough: at(-1),
    dataAt: at(-1),
    firstDataAt: at(-600_000),
    unit,
    settings: [
      { ...setting('offDelay', 210, 's', 'proven'), bracket: [208, 212] },
      setting('offDelayFrom', 'either', ''),
      setting('powerUpBase', 120, 's', 'recorded'),
      setting('powerUpShare', 0.1, 'share', 'recorded'),
      setting('lowPressureBypass', 120, 's', 'recorded'),
      setting('lowPressureRetry', 'either', ''),
      setting('stopsCounted', 'either', ''),
      setting('undervoltageTrip', 18, 'V'),
      setting('undervoltageStartGrace', 0, 's'),
      setting('undervoltageDelayFrom', 'either', ''),
      setting('holdUp', 0, 's'),
    ],
    points: [
      wired('cooling-call', 'cooling call'),
      wired('compressor-output', 'compressor output'),
      wired('lockout-alarm', 'alarm contact'),
      wired('control-voltage', 'control voltage', analog),
      wired('line-voltage', 'line voltage', {
        ...analog,
        device: 'panel-a',
        reporting: { mode: 'polled', seconds: 1 },
      }),
      wired('space-temperature', 'space temperature', {
        ...analog,
        device: 'shelter',
        measure: '°C',
        reporting: { mode: 'polled', seconds: 60 },
      }),
    ],
    thresholds: [
      { signal: 'control-voltage', value: 18, says: 'undervoltage trip, assumed' },
      { signal: 'space-temperature', value: 30, says: 'limit of the room' },
    ],
    facts: {
      position: null,
      disconnect: null,
      make: null,
      model: null,
      serial: null,
      refrigerant: null,
      filter: null,
      breaker: null,
      notes: null,
      lockedRotorAmps: 96,
      ratedLoadAmps: 17.9,
    },
    observability: {
      summary: [
        { can: true, says: 'Each run, and whether a call or the power ended it.' },
        { can: true, says: 'A hard lockout, by its alarm contact.' },
        {
          can: false,
          says: 'With no pressure contacts, high and low pressure are told apart by timing only.',
        },
        {
          can: false,
          says: 'With no compressor current, a contactor that sticks or doesn’t pull in can’t be seen.',
        },
      ],
      kinds: [
        {
          kind: 'hard-lockout',
          cause: 'high-pressure',
          about: 'unit',
          known: 'certain',
          causeKnown: 'probable',
          because: 'told by time alone: a stop sooner than the low-pressure bypass can’t be low pressure',
        },
        {
          kind: 'stuck-contactor',
          cause: null,
          about: 'unit',
          known: 'not-at-all',
          causeKnown: null,
          because: 'no current is measured in the compressor’s own conductor',
        },
      ],
      blind: [
        {
          signal: 'control-voltage',
          shortestSeconds: 5,
          says: 'The control voltage is looked at every 5 s: what is over sooner can fall between two looks.',
        },
      ],
      assumed: [
        {
          setting: 'undervoltageTrip',
          says: 'The undervoltage trip is assumed. What is judged by it: drops for low voltage.',
        },
      ],
      changes: [
        {
          effort: 'reporting',
          says: 'Report the control voltage on change instead of every 5 s, and an outage or a dip of 0.25 s can be seen, where it has to last 5 s now.',
          gains: ['an outage or a dip of 0.25 s can be seen, where it has to last 5 s now'],
        },
        {
          effort: 'wiring',
          says: 'Wire the compressor current, and a stuck contactor can be told for certain.',
          gains: ['a stuck contactor can be told for certain'],
        },
      ],
    },
  };
}

/** The invented history is the same again each two hours before that, so that a week can be drawn. */
const PERIOD = 7200;
const contact = (
  signal: SignalName,
  name: string,
  steps: [number, 0 | 1][],
  from: number,
  to: number,
): ContactSeries => {
  const all: [number, 0 | 1][] = [];
  if (signal !== 'lockout-alarm')
    for (let k = Math.ceil(-from / PERIOD); k >= 1; k--)
      for (const [t, v] of steps) if (t < -2000) all.push([t - k * PERIOD + 2000, v]);
  all.push(...steps);
  const kept = all.filter(([t], i) => t <= to && (all[i + 1]?.[0] ?? Infinity) >= from);
  return {
    kind: 'contact',
    device: 'unit-2',
    signal,
    name,
    unknown: [],
    crowded: [],
    knownThrough: at(-1),
    t: kept.map(([t]) => at(t)),
    earliest: kept.map(([t]) => at(signal === 'lockout-alarm' ? t - 30 : t)),
    v: kept.map(([, v]) => v),
  };
};

function line(
  device: string,
  signal: SignalName,
  name: string,
  measure: 'V' | '°C',
  from: number,
  to: number,
  value: (t: number) => number,
): AnalogSeries {
  const step = Math.max(5, (to - from) / 2000);
  const t: number[] = [];
  for (let s = Math.ceil(from / step) * step; s <= Math.min(to, -1); s += step) t.push(s);
  const values = t.map(value);
  return {
    kind: 'analog',
    device,
    signal,
    name,
    measure,
    unknown: [],
    t: t.map((s) => at(s)),
    mean: values,
    last: values,
    min: values.map((v) => v - 0.1),
    max: values.map((v) => v + 0.1),
    breakAfter: Math.max(15, step * 3),
  };
}
const on = (t: number) => OUTPUT.findLast(([s]) => s <= t)?.[1] === 1;
const starting = (t: number) => OUTPUT.some(([s, v]) => v === 1 && t >= s && t < s + 6);
const wobble = (t: number) => Math.sin(t * 12.9898) * 0.16;

export function series(url: URL): SeriesAnswer {
  const seconds = (name: string) => (Date.parse(url.searchParams.get(name)!) * 1000 - NOW) / 1e6;
  const [from, to] = [seconds('from'), seconds('to')];
  const all = [
    contact('cooling-call', 'cooling call', CALL, from, to),
    contact('compressor-output', 'compressor output', OUTPUT, from, to),
    contact('lockout-alarm', 'alarm contact', ALARM, from, to),
    line(
      'unit-2',
      'control-voltage',
      'control voltage',
      'V',
      from,
      to,
      (t) => (on(t) ? 25.4 : 26.1) + wobble(t) - (starting(t) ? 3.8 : 0),
    ),
    line(
      'panel-a',
      'line-voltage',
      'line voltage',
      'V',
      from,
      to,
      (t) => 239.5 + 6 * wobble(t / 7) - (starting(t) ? 9 : 0),
    ),
    line(
      'shelter',
      'space-temperature',
      'space temperature',
      '°C',
      from,
      to,
      (t) => 25 + Math.sin(t / 900) * 0.8 + (t > -737 ? (t + 737) / 500 : 0),
    ),
  ];
  const [device, signals] = [url.searchParams.get('device')!, url.searchParams.get('signals')!.split(',')];
  return {
    site: 'pine-ridge',
    device,
    from: url.searchParams.get('from')!,
    to: url.searchParams.get('to')!,
    width: 1000,
    series: all.filter((each) => each.device === device && signals.includes(each.signal)),
  };
}

const run = (id: string, start: number, end: number, cause: EventAnswer['cause']): EventAnswer =>
  event({
    id,
    kind: 'compressor-run',
    cause,
    causeCertainty: 'certain',
    start: point(start),
    end: point(end),
    measures: { runSeconds: end - start },
  });

export const events = (): EventAnswer[] => [
  run('run-1', -5200, -4500, 'call-ended'),
  run('run-2', -3600, -3000, 'call-ended'),
  run('run-3', -1358, -988, 'pressure'),
  event({
    id: 'soft',
    candidates: [
      { cause: 'high-pressure', fit: 'fits', because: 'ran 6:10, either switch may have opened' },
      { cause: 'low-pressure', fit: 'fits', because: 'ran longer than the recorded bypass of 120 s' },
    ],
    evidence: [
      { signal: 'cooling-call', t: at(-1358), value: 1, says: 'the call came and stayed' },
      { signal: 'compressor-output', t: at(-988), value: 0, says: 'output dropped while the call stayed' },
      { signal: 'control-voltage', t: at(-990), value: 25.4, says: 'voltage was well above trip' },
    ],
  }),
  run('run-4', -778, -737, 'high-pressure'),
  event({
    id: 'hard',
    kind: 'hard-lockout',
    cause: 'high-pressure',
    causeCertainty: 'certain',
    start: polled(-737),
    end: null,
    pending: ['end'],
    measures: { resets: 0 },
    candidates: [
      {
        cause: 'low-pressure',
        fit: 'excluded',
        because: 'too soon after the retry for low pressure (recorded bypass 120 s)',
      },
      { cause: 'high-pressure', fit: 'fits', because: 'stopped 41 s after the retry' },
    ],
    evidence: [
      { signal: 'compressor-output', t: at(-737), value: 0, says: 'second stop in the same call' },
      { signal: 'lockout-alarm', t: at(-737), value: 1, says: 'alarm contact closed' },
      { signal: 'cooling-call', t: at(-1), value: 1, says: 'the call is still present' },
    ],
  }),
];
