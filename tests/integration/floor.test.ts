import fc from 'fast-check';
import { afterEach, expect, test } from 'vitest';
import { moveFloor, readFloor, type Floor } from '../../db/floor.ts';
import { addWorkForOutdated } from '../../db/follow-states.ts';
import { statement, type Database } from '../../db/pool.ts';
import { timeParameter } from '../../db/values.ts';
import { makeFloor } from '../../server/retention/make-floor.ts';
import { makeSetups } from '../../server/follow/setup.ts';
import type { Folds } from '../../server/follow/material.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { FOLDS } from '../../shared/inference/folds.ts';
import { foldSiteOnce } from '../fixtures/fold-site.ts';
import { followByHand } from '../fixtures/follow-by-hand.ts';
import {
  commit,
  inOrder,
  lifeOf,
  merged,
  putDocument,
  standingEvents,
  stoppedReasons,
  type Message,
} from '../fixtures/follow-store.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { histories, SITE, type History } from '../fixtures/two-units.ts';
import { casesOf } from '../fixtures/seed.ts';

/**
 * The floor (architecture 4): what lies before it is gone, what was decided there stands, and what comes above it gives the same
 * events in any order, also where everything is folded again.
 */
const CASES = casesOf('FLOOR_CASES', 8);
const HISTORIES = fc
  .sample(histories, { numRuns: 4 * CASES, seed: 20_261_126 })
  .map((history) => ({ history, events: once(history, history.messages).length }))
  .sort((a, b) => b.events - a.events)
  .slice(0, CASES)
  .map(({ history }) => history);

function once({ history }: History, messages: readonly Message[]) {
  const rows = merged(messages.flatMap((message) => [...message.rows, ...lifeOf(message)]));
  return inOrder(foldSiteOnce({ history, rows, watch: { spans: [] } }));
}

let store: FreshDatabase | null = null;
afterEach(async () => {
  await store?.drop();
  store = null;
});

const timesOf = ({ rows, life }: Message): Instant[] => [
  ...(life === undefined ? [] : [life]),
  ...rows.map(({ t }) => t),
];
const oldest = (message: Message): Instant =>
  lifeOf(message).reduce((a, { t }) => Math.min(a, t), Math.min(...timesOf(message)));
/** Of a deck of cards, the same each time. */
const shuffled = <T>(list: readonly T[]): T[] =>
  [...list]
    .map((one, i) => ({ one, place: (i * 7919) % 1009 }))
    .sort((a, b) => a.place - b.place)
    .map(({ one }) => one);

const GONE = ['samples', 'intervals'].map((table) => statement('', `delete from ${table} where t < $1`));
const FROZEN = statement(
  '',
  `select e.id, e.body, e.settled_at as "settledAt" from events e
   join checkpoints c on c.subject_id = e.subject_id and c.floor_at is not null
   where e.withdrawn_at is null and e.settled_at <= c.through order by e.id`,
);
const readFrozen = (database: Database) => database.many<{ id: string }>(FROZEN);

/** The floor in the middle of a history, everything before it gone but the last ten minutes; what came too late for it left out. */
async function withFloor(history: History) {
  store = await freshDatabase();
  const { database } = store;
  await putDocument(database, SITE, history.document);
  const inTime = [...history.messages].sort((a, b) => oldest(a) - oldest(b));
  const at = Math.floor(oldest(inTime[Math.floor(inTime.length / 2)]!));
  const floor: Floor = { at, keptFrom: at - seconds(600) };
  const before = inTime.filter((message) => oldest(message) < at && Math.max(...timesOf(message)) < at);
  const after = inTime.filter((message) => oldest(message) >= at);
  // every eleventh of those before it comes only when it is too late
  const accepted = before.filter((_, i) => i % 11 !== 5);
  const [soon, later] = [after.slice(0, after.length / 2), shuffled(after.slice(after.length / 2))];
  const byHand = followByHand(database, FOLDS);
  await commit(database, SITE, shuffled(accepted));
  await byHand.settle();
  await commit(database, SITE, soon);
  await byHand.settle();
  await moveFloor(database, floor);
  expect(await makeFloor({ database, folds: FOLDS, setups: makeSetups(), rows: 400 }, floor)).toBe(true);
  for (const gone of GONE) await database.run(gone, [timeParameter(floor.keptFrom)]);
  for (const message of later) await commit(database, SITE, [message]);
  await byHand.settle();
  return { database, expected: once(history, [...accepted, ...after]), floor, byHand };
}

test(`above the floor any order gives the same, and so does folding everything again (${CASES} histories)`, async () => {
  let frozenInAll = 0;
  for (const history of HISTORIES) {
    const { database, expected, byHand } = await withFloor(history);
    expect(await standingEvents(database, SITE)).toEqual(expected);
    const frozen = await readFrozen(database);
    frozenInAll += frozen.length;
    // the same document from always on: a re-fold of everything, which begins at the floor
    await putDocument(database, SITE, history.document, -Infinity);
    expect(await byHand.due()).not.toEqual([]);
    await byHand.settle();
    expect(await stoppedReasons(database)).toEqual([]);
    expect(await standingEvents(database, SITE)).toEqual(expected);
    expect(await readFrozen(database)).toEqual(frozen);
    await store?.drop();
    store = null;
  }
  expect(frozenInAll).toBeGreaterThan(CASES);
});

/** The same rules under another number: no stored state is of use to them. */
const NEWER = Object.fromEntries(
  Object.entries(FOLDS).map(([kind, fold]) => [kind, { ...fold, version: fold.version + 1 }]),
) as unknown as Folds;

test(`other rules begin anew at the floor: what was decided before it stands as it was (${CASES} histories)`, async () => {
  let [same, all] = [0, 0];
  for (const history of HISTORIES) {
    const { database, expected, floor } = await withFloor(history);
    const frozen = await readFrozen(database);
    const byHand = followByHand(database, NEWER);
    for (const [kind, fold] of Object.entries(NEWER)) await addWorkForOutdated(database, kind, fold!.version);
    await byHand.settle();
    expect(await stoppedReasons(database)).toEqual([]);
    const now = await standingEvents(database, SITE);
    const stands = new Map(now.map((event) => [event.id, event]));
    const were = expected.filter(({ id }) => frozen.some((one) => one.id === id));
    expect(were.map(({ id }) => stands.get(id))).toEqual(were);
    const above = expected.filter(({ start }) => start.earliest > floor.at);
    all += above.length;
    same += above.filter(({ id }) => stands.has(id)).length;
    await store?.drop();
    store = null;
  }
  // ten minutes before the floor tell it nearly all that it has to know
  expect(all).toBeGreaterThan(CASES);
  expect(same / all).toBeGreaterThan(0.8);
});

test('the floor never falls, and is a change of configuration', async () => {
  store = await freshDatabase();
  const { database } = store;
  const [low, high] = [1000, 2000].map((at) => ({ at: seconds(at), keptFrom: seconds(at - 10) }));
  expect([await moveFloor(database, high!), await moveFloor(database, low!)]).toEqual([true, false]);
  expect(await readFloor(database)).toEqual(high);
});
