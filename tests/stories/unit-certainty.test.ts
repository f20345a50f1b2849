import { describe, expect, it } from 'vitest';
import { inSeconds, seconds } from '../../shared/base/instant.ts';
import type { Span } from '../../shared/base/span.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import type { SiteHistory } from '../../shared/telemetry/site.ts';
import { foldOnce, type Row } from '../fixtures/fold-run.ts';
import * as wired from '../fixtures/unit-record.ts';

/**
 * What a unit's fold must not be certain of: what two clocks, a poll, a silence or a wire can hide. `happens` is what really
 * went on, in seconds (raw contacts, volts, amperes); what is told of it has its times as intervals, `[earliest latest]`.
 */
interface Story {
  readonly name: string;
  readonly points: readonly object[];
  readonly gateways?: readonly object[];
  readonly protection?: object;
  /** what is recorded from a second on */
  readonly later?: readonly [from: number, protection: object];
  readonly happens: readonly (readonly [second: number, signal: string, value: number])[];
  /** every point polled each so many seconds; else each change is told when it happens */
  readonly polled?: number;
  /** the gateway is dead from one second to another, and tells everything as it comes back */
  readonly dead?: readonly [from: number, to: number];
  readonly until: number;
  readonly events: readonly string[];
}

const CURRENT = { signal: 'compressor-current', deadband: 0.5 };
const WELL: Story['happens'] = [
  [0, 'cooling-call', 0],
  [0, 'compressor-output', 0],
  [0, 'lockout-alarm', 0],
  [0, 'high-pressure', 1],
  [0, 'low-pressure', 1],
  [0, 'control-voltage', 26],
];
const starts = (t: number): Story['happens'] => [
  [t, 'cooling-call', 1],
  [t, 'compressor-output', 1],
];
const trips = (t: number): Story['happens'] => [
  [t, 'high-pressure', 0],
  [t, 'compressor-output', 0],
];

const STORIES: Story[] = [
  {
    name: 'control voltage read by a gateway whose clock is 1.5 s behind: the outage is not excluded as the cause',
    points: [wired.CALL, wired.OUTPUT, wired.HIGH, wired.LOW, { ...wired.VOLTAGE, gateway: 'meter' }],
    gateways: [
      { id: 'gateway', heartbeatSeconds: 30 },
      { id: 'meter', heartbeatSeconds: 30 },
    ],
    happens: [
      ...WELL,
      ...starts(100),
      [298.5, 'control-voltage', 0],
      [300, 'cooling-call', 0],
      [300, 'compressor-output', 0],
      [398.5, 'control-voltage', 26],
      [400, 'cooling-call', 1],
      [541, 'compressor-output', 1],
    ],
    until: 600,
    events: [
      'compressor-run power-lost [99.9 100.1]–[299.9 300.1] certain/probable',
      'compressor-run [540.9 541.1]–… certain',
    ],
  },
  {
    name: 'output with no current, first seen after a silence, began anywhere in it',
    points: [wired.CALL, wired.OUTPUT, CURRENT, wired.VOLTAGE],
    happens: [
      [0, 'cooling-call', 1],
      [0, 'compressor-output', 1],
      [0, 'compressor-current', 10],
      [0, 'control-voltage', 26],
      [300, 'compressor-current', 0],
      [600, 'compressor-current', 10],
    ],
    dead: [200, 500],
    until: 700,
    events: ['failed-start at-start [189.9 500]–[599.9 600.1] certain/possible'],
  },
  {
    name: 'polled every 30 s: the alarm tells that the call broke before the break that was seen',
    points: wired.FULL,
    polled: 30,
    happens: [
      ...WELL,
      ...starts(95),
      ...trips(400),
      [610, 'lockout-alarm', 1],
      [905, 'cooling-call', 0],
      [905, 'lockout-alarm', 0],
      [908, 'cooling-call', 1],
      [935, 'cooling-call', 0],
    ],
    until: 1200,
    events: [
      'compressor-run high-pressure [90 120]–[390 420] certain/probable',
      'soft-lockout high-pressure [390 420]–[600 630] probable/probable',
      'hard-lockout high-pressure [600 630]–[900 930] certain/probable',
      'lockout-reset call-broken [900 930]–[900 930] certain/possible',
    ],
  },
  {
    name: 'polled every 10 s: an alarm first seen a poll after the stop may be of another stop, unseen',
    points: wired.FULL,
    polled: 10,
    happens: [
      ...WELL,
      ...starts(95),
      ...trips(398),
      [400.2, 'high-pressure', 1],
      [404, 'compressor-output', 1],
      ...trips(407),
      [407, 'lockout-alarm', 1],
      [905, 'cooling-call', 0],
      [905, 'lockout-alarm', 0],
    ],
    until: 1200,
    events: [
      'compressor-run high-pressure [90 100]–[390 400] certain/probable',
      'hard-lockout high-pressure [390 400]–[900 910] probable/probable',
      'lockout-reset call-broken [900 910]–[900 910] probable/probable',
    ],
  },
  {
    name: 'polled every 10 s: a call broken between two polls puts the restart off, and ended the soft lockout unseen',
    points: wired.FULL,
    polled: 10,
    happens: [
      ...WELL,
      ...starts(95),
      ...trips(395),
      [405, 'high-pressure', 1],
      [501, 'cooling-call', 0],
      [505, 'cooling-call', 1],
      [711, 'compressor-output', 1],
    ],
    until: 900,
    events: [
      'compressor-run high-pressure [90 100]–[390 400] certain/probable',
      'soft-lockout high-pressure [390 400]–[390 720] probable/probable',
      'compressor-run [710 720]–… certain',
    ],
  },
  {
    name: 'a mismatch is over when the record is put right',
    points: wired.FULL,
    later: [1000, { offDelay: 150 }],
    happens: [
      ...WELL,
      ...starts(100),
      ...trips(500),
      [520, 'high-pressure', 1],
      [650, 'compressor-output', 1],
      [1500, 'cooling-call', 0],
      [1500, 'compressor-output', 0],
    ],
    until: 1600,
    events: [
      'compressor-run high-pressure [99.9 100.1]–[499.9 500.1] certain/certain',
      'short-cycle delay-not-kept [649.9 650.1]–[649.9 650.1] certain/certain',
      'soft-lockout high-pressure [499.9 500.1]–[649.9 650.1] certain/certain',
      'setting-mismatch [649.9 650.1]–[1000 1000] certain',
      'compressor-run call-ended [649.9 650.1]–[1499.9 1500.1] certain/certain',
    ],
  },
];

function rowsOf({ happens, points, polled, dead, gateways, until }: Story): Row[] {
  const alive = (t: number): boolean => !dead || t < dead[0] || t >= dead[1];
  const valueAt = (signal: string, t: number) =>
    happens.findLast(([at, of]) => of === signal && at <= t)?.[2];
  const rows: Row[] = [];
  for (const { signal } of points as readonly { signal: string }[]) {
    const tell = (t: number): void => {
      const value = valueAt(signal, t);
      if (alive(t) && value !== undefined) rows.push({ key: `unit-1/${signal}`, t: seconds(t), value });
    };
    if (polled) for (let t = 0; t <= until; t += polled) tell(t);
    else for (const [t, of] of happens) if (of === signal) tell(t);
    if (dead) tell(dead[1]);
  }
  for (const { id } of (gateways ?? [{ id: 'gateway' }]) as readonly { id: string }[])
    for (let t = 0; t <= until + 60; t += 10)
      if (alive(t)) rows.push({ key: `${id}/life`, t: seconds(t), value: 1 });
  return rows;
}

function historyOf({ points, polled, protection, later, gateways }: Story): SiteHistory {
  const reporting = polled ? { reporting: { mode: 'polled', seconds: polled } } : {};
  const siteWith = (recorded: object) =>
    wired.oneUnit(
      points.map((point) => ({ ...point, ...reporting })),
      { ...protection, ...recorded },
      { nameplate: { ratedLoadAmps: 10 } },
      gateways,
    );
  const first = { from: -Infinity, site: siteWith({}) };
  return later ? [first, { from: seconds(later[0]), site: siteWith(later[1]) }] : [first];
}

const written = ({ earliest, latest }: Span): string => {
  const [from, to] = [earliest, latest].map((t) => String(Math.round(inSeconds(t) * 10) / 10));
  return `[${from} ${to}]`;
};

function told({ kind, cause, start, end, certainty, causeCertainty }: EventDraft): string {
  const sure = causeCertainty ? `${certainty}/${causeCertainty}` : certainty;
  const when = `${written(start)}–${end ? written(end) : '…'}`;
  return [kind, cause, when, sure].filter(Boolean).join(' ');
}

describe('what the fold is not certain of', () => {
  it.each(STORIES)('$name', (story) => {
    const { events } = foldOnce({
      fold: unitFold,
      history: historyOf(story),
      subject: { kind: 'unit', site: 'rowan', device: 'unit-1' },
      rows: rowsOf(story),
      watch: { spans: [{ from: 0, to: seconds(story.until + 60) }] },
    });
    expect(events.filter(({ kind }) => kind !== 'telemetry-gap').map(told)).toEqual(story.events);
  });
});
