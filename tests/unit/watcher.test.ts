import { expect, test } from 'vitest';
import {
  isWell,
  NOTHING_WATCHED,
  watch,
  withoutSent,
  type Sight,
  type Sights,
} from '../../shared/alarms/watcher.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { watcherText } from '../../shared/wire/watcher-text.ts';
import { readWatcherSettings } from '../../server/watcher/settings.ts';

/** One outage of what the server leans on: one message when it lasts, one when it is over (handbook 7, the watcher watched). */
const at = (second: number): Instant => seconds(1_700_000_000 + second);
const well: Sight = { kind: 'well' };
const unknown: Sight = { kind: 'not-known' };
const wrong = (says: string): Sight => ({ kind: 'wrong', says });
const ALL: Sights = { database: well, broker: well, ingest: well, inference: well };
const AWAY: Sights = { database: wrong('no connection'), broker: well, ingest: unknown, inference: unknown };

function told(looks: readonly (readonly [second: number, sights: Sights])[]) {
  let state = NOTHING_WATCHED;
  for (const [second, sights] of looks) state = watch(state, sights, at(second));
  return state;
}
const lines = (looks: Parameters<typeof told>[0]) =>
  told(looks).unsent.map(({ watched, what, since, at: then }) => [
    watched,
    what,
    (since - at(0)) / 1e6,
    (then - at(0)) / 1e6,
  ]);

test('a database that is away for longer than 20 s is told once, and its end once', () => {
  const looks = [0, 5, 10, 15, 20, 25, 30].map((second) => [second, AWAY] as const);
  expect(lines(looks)).toEqual([['database', 'trouble', 0, 20]]);
  const after = [40, 45, 50, 55, 60, 65].map((second) => [second, ALL] as const);
  expect(lines([...looks, ...after])).toEqual([
    ['database', 'trouble', 0, 20],
    ['database', 'over', 0, 60],
  ]);
});

test('shorter than that nobody is told; it comes back within 20 s and goes again: it is still the same outage', () => {
  expect(
    lines([
      [0, AWAY],
      [15, AWAY],
      [19, ALL],
      [40, AWAY],
      [50, AWAY],
    ]),
  ).toEqual([]);
  const flaps = [
    [0, AWAY],
    [20, AWAY],
    [30, ALL],
    [40, AWAY],
    [60, ALL],
    [79, ALL],
    [80, ALL],
  ] as const;
  expect(lines(flaps)).toEqual([
    ['database', 'trouble', 0, 20],
    ['database', 'over', 0, 80],
  ]);
});

test('what can’t be told meanwhile keeps its state: ingest’s silence isn’t over because the database is away', () => {
  const silent: Sights = { ...ALL, ingest: wrong('silent') };
  const state = told([
    [0, silent],
    [60, silent],
    [70, AWAY],
    [100, AWAY],
  ]);
  expect(state.unsent.map(({ watched, what }) => [watched, what])).toEqual([
    ['ingest', 'trouble'],
    ['database', 'trouble'],
  ]);
  expect(isWell(state, ALL)).toBe(false);
});

test('a message keeps its id however often the same outage is looked at, and goes when it is sent', () => {
  const state = told([
    [0, AWAY],
    [20, AWAY],
  ]);
  const again = told([
    [0, AWAY],
    [20, AWAY],
    [25, AWAY],
  ]);
  expect(again.unsent).toEqual(state.unsent);
  expect(withoutSent(state, state.unsent[0]!.id).unsent).toEqual([]);
  expect(JSON.parse(JSON.stringify(state))).toEqual(state);
});

test('the message says what isn’t done meanwhile and what to look at first', () => {
  const [message] = told([
    [0, AWAY],
    [20, AWAY],
  ]).unsent;
  expect(watcherText(message!, 'shelters.example.org')).toEqual({
    subject: 'Holdoff at shelters.example.org: the database isn’t reachable',
    text: [
      'The database isn’t reachable since 2023-11-14 22:13 UTC.',
      'no connection',
      '',
      'Nothing is taken in, nothing is inferred, and no alarm reaches anybody while this lasts.',
      'See whether PostgreSQL runs and its disk has room; then whether DATABASE_URL still leads to it.',
      '',
      'This message came past what has failed. One more follows when it is over.',
      '',
    ].join('\n'),
  });
});

test('settings of the second path: none is none; each fault says what to give', () => {
  const read = (environment: Record<string, string>, mail = false) => {
    const faults: string[] = [];
    const by = mail ? { url: 'smtp://localhost', from: 'a@example.org', ca: null } : null;
    return { settings: readWatcherSettings(environment, by, faults), faults };
  };
  expect(read({})).toEqual({ settings: null, faults: [] });
  const url = 'https://life.example.org/x';
  expect(read({ WATCHER_URL: url }).settings).toEqual({
    webhook: { url, secret: null },
    mail: null,
    heartbeatSeconds: 300,
  });
  expect(read({ WATCHER_MAIL: 'ops@example.org' }, true).settings).toMatchObject({
    heartbeatSeconds: 86_400,
  });
  expect(read({ WATCHER_MAIL: 'ops@example.org' }).faults).toHaveLength(1);
  expect(read({ WATCHER_URL: 'life', WATCHER_SECRET: 'short', HEARTBEAT_SECONDS: '5' }).faults).toHaveLength(
    3,
  );
});
