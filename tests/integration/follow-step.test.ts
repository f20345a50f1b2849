import { afterAll, beforeAll, expect, test } from 'vitest';
import { FOLLOW_DEFAULTS, startFollower, type Follower } from '../../server/follow/follower.ts';
import { seconds } from '../../shared/base/instant.ts';
import { FOLDS } from '../../shared/inference/folds.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import type { Row } from '../fixtures/fold-run.ts';
import { foldSiteOnce } from '../fixtures/fold-site.ts';
import {
  caughtUp,
  commit,
  inOrder,
  lifeOf,
  merged,
  putDocument,
  stoppedReasons,
  type Message,
} from '../fixtures/follow-store.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { FULL, recordOf } from '../fixtures/unit-record.ts';

const DOCUMENT = {
  timeZone: 'America/Chicago',
  gateways: [{ id: 'gateway', heartbeatSeconds: 30 }],
  panels: [{ id: 'panel-a' }],
  units: [{ id: 'unit-1', panel: 'panel-a', protection: { offDelay: 210 }, points: FULL }],
};
const parsed = parseConfiguration('rowan', DOCUMENT);
if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
const HISTORY = [{ from: -Infinity, site: parsed.site }];

/** two protective stops in one call, then the call is broken (handbook 2.3, two in one call) */
const MESSAGES = byInstant(
  recordOf([
    [100, { call: true }],
    [500, { highPressureOpen: true }],
    [520, { highPressureOpen: false }],
    [800, { highPressureOpen: true }],
    [900, { highPressureOpen: false }],
    [1500, { call: false }],
  ]).map((row) => ({ ...row, t: row.t + seconds(1_700_000_000) })),
);

function byInstant(rows: readonly Row[]): Message[] {
  const instants = new Map<number, Row[]>();
  for (const row of rows) instants.set(row.t, [...(instants.get(row.t) ?? []), row]);
  return [...instants].sort(([a], [b]) => a - b).map(([, at]) => ({ gateway: 'gateway', rows: at }));
}

const once = (messages: readonly Message[]) =>
  inOrder(
    foldSiteOnce({
      history: HISTORY,
      rows: merged(messages.flatMap((message) => [...message.rows, ...lifeOf(message)])),
      watch: { spans: [] },
    }),
  );

let store: FreshDatabase;
let follower: Follower;

beforeAll(async () => {
  store = await freshDatabase();
  await putDocument(store.database, 'rowan', DOCUMENT);
  follower = startFollower({
    ...FOLLOW_DEFAULTS,
    pollMs: 20,
    database: store.database,
    folds: FOLDS,
    observe: (observation) => {
      if (observation.kind !== 'stepped') console.log(observation.error);
    },
  });
});
afterAll(async () => {
  await follower.stop();
  await store.drop();
});

test('in order, in small batches: the events are those of the record folded once', async () => {
  for (let i = 0; i < MESSAGES.length; i += 20) {
    await commit(store.database, 'rowan', MESSAGES.slice(i, i + 20));
    follower.nudge();
  }
  const events = await caughtUp(store.database, 'rowan');
  expect(events.map(({ kind }) => kind)).toContain('hard-lockout');
  expect(events).toEqual(once(MESSAGES));
  expect(await stoppedReasons(store.database)).toEqual([]);
});

test('a gateway’s life that comes when the fold has gone past it sends the fold back', async () => {
  const document = {
    timeZone: 'UTC',
    gateways: [{ id: 'east' }, { id: 'west', heartbeatSeconds: 30 }],
    panels: [{ id: 'panel-a' }],
    units: [
      {
        id: 'unit-1',
        panel: 'panel-a',
        points: [
          { signal: 'compressor-output', gateway: 'east', reporting: { mode: 'polled', seconds: 5 } },
          { signal: 'cooling-call', gateway: 'west' },
        ],
      },
    ],
  };
  const parsed = parseConfiguration('elm', document);
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  const t = (second: number) => seconds(1_700_000_000 + second);
  const mark = { from: t(0), to: t(400) };
  const output = (second: number): Message => ({
    gateway: 'east',
    rows: [{ key: 'unit-1/compressor-output', t: t(second), value: second >= 20 && second < 200 ? 1 : 0 }],
  });
  const call: Message = { gateway: 'west', rows: [{ key: 'unit-1/cooling-call', t: t(10), value: 1 }] };
  const lives = [150, 160, 190, 220, 250].map((second): Message => ({
    gateway: 'west',
    rows: [],
    life: t(second),
  }));
  const first = [call, ...Array.from({ length: 81 }, (_, i) => output(i * 5))];

  await putDocument(store.database, 'elm', document);
  await caughtUp(store.database, 'elm'); // folded before anything was heard
  await commit(store.database, 'elm', first, [mark]);
  const unknown = await caughtUp(store.database, 'elm');
  for (const life of lives) {
    await commit(store.database, 'elm', [life]); // each the newest of its gateway, and all behind the fold
    await caughtUp(store.database, 'elm');
  }
  const events = await caughtUp(store.database, 'elm');
  const rows = merged([...first, ...lives].flatMap((message) => [...message.rows, ...lifeOf(message)]));
  const history = [{ from: -Infinity, site: parsed.site }];
  expect(events).toEqual(inOrder(foldSiteOnce({ history, rows, watch: { spans: [mark] } })));
  expect(events).not.toEqual(unknown);
});
