import { afterEach, beforeEach, expect, test } from 'vitest';
import { readUrgent } from '../../db/follow-due.ts';
import { statement } from '../../db/pool.ts';
import { startFollower, FOLLOW_DEFAULTS, type FollowObservation } from '../../server/follow/follower.ts';
import { seconds } from '../../shared/base/instant.ts';
import { FOLDS } from '../../shared/inference/folds.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import { followByHand } from '../fixtures/follow-by-hand.ts';
import { commit, putDocument, type Message } from '../fixtures/follow-store.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { until } from '../fixtures/until.ts';

/** Whose turn it is where more wait than can be folded, and that one that can't be saved holds nobody up. */
const UNITS = 20;
const DOCUMENT = {
  timeZone: 'UTC',
  panels: [{ id: 'panel-a' }],
  units: Array.from({ length: UNITS }, (_, i) => ({
    id: `unit-${i + 1}`,
    panel: 'panel-a',
    points: [
      { signal: 'cooling-call' },
      { signal: 'control-voltage', reporting: { mode: 'polled', seconds: 10 } },
    ],
  })),
};
const T0 = seconds(1_700_000_000);
const sample = (unit: number, signal: string, value: number): Message => ({
  gateway: 'gateway',
  rows: [{ key: `unit-${unit}/${signal}`, t: T0, value }],
});

let store: FreshDatabase;
beforeEach(async () => {
  store = await freshDatabase();
  await putDocument(store.database, 'rowan', DOCUMENT);
});
afterEach(() => store.drop());

const aged = (kind: string, waited: string) =>
  store.database.run(
    statement(
      '',
      `update work_items w set inserted_at = inserted_at - interval '${waited}' from subjects s
       where s.id = w.subject_id and s.kind = '${kind}'`,
    ),
  );

test('a contact that has changed goes before what was measured up to five seconds before, and no more', async () => {
  const { database } = store;
  const hand = followByHand(database, FOLDS);
  await hand.settle();
  await commit(database, 'rowan', [sample(1, 'control-voltage', 26)]);
  await commit(database, 'rowan', [sample(2, 'control-voltage', 26), sample(2, 'cooling-call', 1)]);
  expect((await readUrgent(database, 10)).map(({ device }) => device)).toEqual(['unit-2']);
  const units = async () =>
    (await hand.due()).filter((name) => name === 'unit/unit-1' || name === 'unit/unit-2');
  expect(await units()).toEqual(['unit/unit-2', 'unit/unit-1']);
  await database.run(
    statement(
      '',
      `update work_items set inserted_at = inserted_at - interval '10 seconds'
       where subject_id = (select id from subjects where device = 'unit-1' and kind = 'unit')`,
    ),
  );
  expect(await units()).toEqual(['unit/unit-1', 'unit/unit-2']);
});

test('a panel lets its units go first for a second; then it has its turn, though units always wait', async () => {
  const hand = followByHand(store.database, FOLDS);
  const due = await hand.due();
  expect(due.indexOf('panel/panel-a')).toBeGreaterThan(due.lastIndexOf(`unit/unit-${UNITS}`));
  await aged('panel', '2 seconds');
  expect((await hand.due())[0]).toBe('panel/panel-a');
});

test('one whose step the store refuses fails alone: those beside it are folded', async () => {
  const refused = {
    ...FOLDS,
    unit: {
      ...unitFold,
      take: (...[state, context, ...rest]: Parameters<typeof unitFold.take>) => {
        if (context.subject.device === 'unit-2')
          throw Object.assign(new Error('refused'), { severity: 'ERROR', code: '22P05' });
        unitFold.take(state, context, ...rest);
      },
    },
  };
  const messages = DOCUMENT.units.map((_, i) => sample(i + 1, 'cooling-call', 1));
  await commit(store.database, 'rowan', messages);
  const told: FollowObservation[] = [];
  const follower = startFollower({
    ...FOLLOW_DEFAULTS,
    workers: 1,
    pollMs: 20,
    database: store.database,
    folds: refused,
    observe: (observation) => told.push(observation),
  });
  const FOLDED = statement(
    '',
    `select s.device from subjects s join subject_states st on st.subject_id = s.id
     where s.kind = 'unit'`,
  );
  const folded = await until(
    () => store.database.many<{ device: string }>(FOLDED),
    (rows) => rows.length === UNITS - 1,
  );
  expect(folded.map(({ device }) => device)).not.toContain('unit-2');
  await until(
    () => Promise.resolve(told.filter(({ kind }) => kind === 'step-failed')),
    (failed) => failed.length > 2,
  );
  await follower.stop();
  const failed = told.flatMap((one) => (one.kind === 'step-failed' ? [one.subject.device] : []));
  expect([...new Set(failed)]).toEqual(['unit-2']);
  const together = told.flatMap((one) => (one.kind === 'stepped' ? [one.subject.device] : []));
  expect(new Set(together).size).toBeGreaterThan(UNITS - 1);
});
