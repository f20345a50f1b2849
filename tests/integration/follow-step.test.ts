import { afterAll, beforeAll, expect, test } from 'vitest';
import { statement, type Database } from '../../db/pool.ts';
import { startFollower, FOLLOW_DEFAULTS, type Follower } from '../../server/follow/follower.ts';
import { seconds } from '../../shared/base/instant.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import { foldOnce, type Row } from '../fixtures/fold-run.ts';
import {
  caughtUp,
  commit,
  inOrder,
  putHistory,
  rowsOf,
  standingEvents,
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
if (!parsed.ok) throw new Error('fixture');
const HISTORY = [{ from: -Infinity, site: parsed.site }];
const SUBJECT = { kind: 'unit', site: 'rowan', device: 'unit-1' } as const;

let store: FreshDatabase;
let follower: Follower;

const follow = (database: Database): Follower =>
  startFollower({
    ...FOLLOW_DEFAULTS,
    pollMs: 20,
    database,
    folds: { unit: unitFold },
    observe: (observation) => {
      if (observation.kind === 'look-failed' || observation.kind === 'step-failed') console.log(observation);
      if (observation.kind === 'stepped' && observation.outcome.kind === 'stopped')
        console.log(observation.outcome);
    },
  });

beforeAll(async () => {
  store = await freshDatabase();
  await putHistory(store.database, HISTORY, [DOCUMENT], 1);
  follower = follow(store.database);
});
afterAll(async () => {
  await follower.stop();
  await store.drop();
});

/** two protective stops in one call, then the call is broken (handbook 2.3, two in one call) */
const RECORD = recordOf([
  [100, { call: true }],
  [500, { highPressureOpen: true }],
  [520, { highPressureOpen: false }],
  [800, { highPressureOpen: true }],
  [900, { highPressureOpen: false }],
  [1500, { call: false }],
]).map((row) => ({ ...row, t: row.t + seconds(1_700_000_000) }));

const byInstant = (rows: readonly Row[]): Message[] => {
  const instants = new Map<number, Row[]>();
  for (const row of rows) instants.set(row.t, [...(instants.get(row.t) ?? []), row]);
  return [...instants].sort(([a], [b]) => a - b).map(([, at]) => ({ gateway: 'gateway', rows: at }));
};

const once = (messages: readonly Message[]) =>
  inOrder(
    foldOnce({
      fold: unitFold,
      history: HISTORY,
      subject: SUBJECT,
      rows: distinct(messages.flatMap(rowsOf)),
    }).events,
  );

const distinct = (rows: readonly Row[]): Row[] => [
  ...new Map(rows.map((row) => [`${row.key}@${row.t}`, row])).values(),
];

test('in order, in small batches: the events are those of the record folded once', async () => {
  const messages = byInstant(RECORD);
  for (let i = 0; i < messages.length; i += 20) {
    await commit(store.database, 'rowan', messages.slice(i, i + 20));
    follower.nudge();
  }
  await caughtUp(store.database);
  const events = await standingEvents(store.database, 'rowan');
  expect(events.map(({ kind }) => kind)).toContain('hard-lockout');
  expect(events).toEqual(once(messages));
});

const STOPPED = statement('', 'select stopped from subject_states where stopped is not null');
test('no subject has stopped', async () => {
  expect(await store.database.many(STOPPED)).toEqual([]);
});
