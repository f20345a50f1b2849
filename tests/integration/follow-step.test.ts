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
