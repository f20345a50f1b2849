import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { Member, type Line } from '../../server/live/client.ts';
import { Untold, type RoomChange } from '../../server/live/room-changes.ts';
import type { EventAnswer } from '../../shared/wire/event-answer.ts';
import type { SamplesFrame, StatusFrame } from '../../shared/wire/frames.ts';
import type { SiteParts } from '../../shared/wire/status.ts';

/** What one client is told, and what it isn't while its line is full. Time is the test's. */
beforeEach(() => vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout', 'performance'] }));
afterEach(() => vi.useRealTimers());

const NOTHING: RoomChange = { parts: [], events: [], withdrawn: [], samples: [], alarms: [] };

const parts = (pending: number, ...gateways: string[]): SiteParts => ({
  id: 'rowan',
  dataAt: null,
  watchedThrough: null,
  inferencePending: pending,
  units: [],
  spaces: [],
  panels: [],
  gateways: gateways.map((id) => ({ id, heartbeatSeconds: pending, lastLife: null, silentSince: null })),
});

const samples = (...v: number[]): RoomChange => ({
  ...NOTHING,
  samples: [{ device: 'unit-1', signal: 'control-voltage', t: v.map(String), v, incomplete: false }],
});

function aClient() {
  const sent: { name: string; frame: StatusFrame | SamplesFrame }[] = [];
  const counted: string[] = [];
  const state = { ready: true, revision: 7 };
  const take = (name: string) => (frame: unknown) => {
    sent.push({ name, frame: frame as StatusFrame });
  };
  const line: Line = {
    ready: () => state.ready,
    status: take('status'),
    samples: take('samples'),
    event: take('event'),
    alarm: take('alarm'),
    count: (what) => void counted.push(what),
  };
  const place = {
    epoch: 'e',
    revision: () => state.revision,
    serverTime: () => 'now',
    site: 'rowan',
    sites: 'all' as const,
  };
  const member = new Member(line, place);
  const change = (one: Partial<RoomChange>) => {
    state.revision++;
    member.add({ ...NOTHING, ...one });
  };
  return { sent, state, member, change };
}

test('a change is told at once, and follows on from the join', () => {
  const { sent, change } = aClient();
  change({ parts: [parts(1)] });
  vi.advanceTimersByTime(1);
  expect(sent.map(({ name, frame }) => [name, frame.after, frame.revision])).toEqual([['status', 7, 8]]);
});

test('a line that is full gets nothing; when it has drained it gets the latest, once', () => {
  const { sent, state, member, change } = aClient();
  state.ready = false;
  for (let i = 1; i <= 50; i++) change({ parts: [parts(i, 'east', ...(i % 2 ? ['west'] : []))] });
  vi.advanceTimersByTime(10_000);
  expect(sent).toEqual([]);
  state.ready = true;
  member.hurry();
  vi.advanceTimersByTime(1);
  expect(sent).toHaveLength(1);
  const [site] = (sent[0]!.frame as StatusFrame).sites;
  expect(site!.inferencePending).toBe(50);
  expect(site!.gateways.map(({ id, heartbeatSeconds }) => [id, heartbeatSeconds])).toEqual([
    ['east', 50],
    ['west', 49],
  ]);
  expect([sent[0]!.frame.after, sent[0]!.frame.revision]).toEqual([7, 57]);
});

test('a word that the line has drained may be lost: it is looked at again', () => {
  const { sent, state, change } = aClient();
  state.ready = false;
  change({ parts: [parts(1)] });
  vi.advanceTimersByTime(1);
  state.ready = true;
  vi.advanceTimersByTime(500);
  expect(sent).toHaveLength(1);
});

test('after a few at once, frames keep their pace', () => {
  const { sent, change } = aClient();
  for (let i = 0; i < 100; i++) {
    change(samples(i));
    vi.advanceTimersByTime(10);
  }
  expect(sent.length).toBeGreaterThanOrEqual(10);
  expect(sent.length).toBeLessThanOrEqual(13);
  const told = sent.flatMap(({ frame }) => (frame as SamplesFrame).points[0]!.v);
  expect(told).toEqual(Array.from({ length: told.length }, (_, i) => i));
});

test('every frame of a flush follows on from the one before', () => {
  const { sent, change } = aClient();
  change({ ...samples(1), parts: [parts(1)], withdrawn: [{ id: 'x', site: 'rowan', replacedBy: null }] });
  vi.advanceTimersByTime(1);
  expect(sent.map(({ name }) => name)).toEqual(['status', 'event', 'samples']);
  expect(sent.map(({ frame }) => [frame.after, frame.revision])).toEqual([
    [7, 8],
    [8, 8],
    [8, 8],
  ]);
});

test('more events than are kept make a gap, and so a fetch', () => {
  const { sent, state, change } = aClient();
  state.ready = false;
  const events = Array.from({ length: 501 }, (_, i) => ({ id: String(i) }) as EventAnswer);
  change({ events });
  state.ready = true;
  vi.advanceTimersByTime(600);
  expect(sent).toHaveLength(1);
  expect(sent[0]!.frame.after).toBeGreaterThan(sent[0]!.frame.revision);
});

test('an event that came back is no longer withdrawn, and one withdrawn no longer told', () => {
  const untold = new Untold();
  const event = { id: 'a' } as EventAnswer;
  const gone = { id: 'a', site: 'rowan', replacedBy: null };
  untold.add({ ...NOTHING, events: [event] });
  untold.add({ ...NOTHING, withdrawn: [gone] });
  expect(untold.take().change).toMatchObject({ events: [], withdrawn: [gone] });
  untold.add({ ...NOTHING, withdrawn: [gone] });
  untold.add({ ...NOTHING, events: [event] });
  expect(untold.take().change).toMatchObject({ events: [event], withdrawn: [] });
  expect(untold.isEmpty).toBe(true);
});

test('samples are kept up to a bound, the newest of them, and said to be incomplete', () => {
  const untold = new Untold();
  for (let i = 0; i < 30; i++) untold.add(samples(...Array.from({ length: 100 }, (_, k) => i * 100 + k)));
  const [point] = untold.take().change.samples;
  expect([point!.v.length, point!.v.at(-1), point!.incomplete]).toEqual([2000, 2999, true]);
});
