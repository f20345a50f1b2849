import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { CommitOutcome } from '../../db/commit.ts';
import { statement } from '../../db/pool.ts';
import { trimRejected, writeRejected, REJECTED_DAYS, type RejectedRow } from '../../db/rejected.ts';
import { SECOND } from '../../shared/base/instant.ts';
import { mergeSamples, type Sample } from '../../shared/telemetry/sample.ts';
import { commitLives, commitSamples, takeAllWork } from '../fixtures/commit.ts';
import { putDocument, readSamples, wallClock } from '../fixtures/ingest.ts';
import { freshDatabase, openTestDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';

const SITE = 'small-school';
const T0 = Date.UTC(2026, 2, 2) * 1_000;

let store: FreshDatabase;
beforeAll(async () => {
  store = await freshDatabase();
  await putDocument(store.database, SITE, SMALL_SCHOOL);
});
afterAll(() => store.drop());

test('any number of ingests beside a change of configuration: no wait in a ring, and the join stands', async () => {
  const batches = fc.sample(
    fc.uniqueArray(
      fc.record({
        key: fc.constantFrom('unit-1/cooling-call', 'unit-1/control-voltage', 'panel-a/line-voltage'),
        t: fc.integer({ min: 0, max: 40 }).map((i) => T0 + i * SECOND),
        value: fc.constantFrom(0, 1, 24),
        quality: fc.constantFrom(0, 2),
      }),
      { minLength: 20, maxLength: 100, selector: ({ key, t }) => `${key} ${t}` },
    ),
    { numRuns: 120, seed: 2026 },
  );
  const ingests = [1, 2, 3, 4].map(() => openTestDatabase(store.url, 2));
  const work = ingests.map(async (database, which) => {
    for (const [i, batch] of batches.entries()) {
      if (i % ingests.length !== which) continue;
      const lives = batch.slice(0, 5).map(({ t }) => t);
      await insist(() => commitSamples(database, SITE, batch));
      await insist(() => commitLives(database, SITE, 'gateway', [...new Set(lives)]));
    }
  });
  const changes = (async () => {
    for (let i = 0; i < 5; i++)
      await putDocument(store.database, SITE, { ...SMALL_SCHOOL, name: `v${i}` }, -Infinity);
  })();
  await Promise.all([...work, changes]);
  await Promise.all(ingests.map((database) => database.close()));

  const joined = new Map<string, Sample>();
  for (const { key, ...sample } of batches.flat()) {
    const place = `${SITE}/${key} ${sample.t}`;
    const before = joined.get(place);
    joined.set(place, before ? mergeSamples(before, sample) : sample);
  }
  const stored = (await readSamples(store.database)).map(
    ({ key, ...sample }) => [`${key} ${sample.t}`, sample] as const,
  );
  expect(new Map(stored)).toEqual(joined);
  expect((await takeAllWork(store.database)).length).toBeGreaterThan(0);
});

/** A commit that finds the configuration moved has written nothing; ingest would decode again and commit. */
async function insist(work: () => Promise<CommitOutcome>): Promise<void> {
  while ((await work()).kind !== 'committed');
}

test('what is set aside stays within its bounds, the oldest going first', async () => {
  const { database } = store;
  const row = (receivedAt: number): RejectedRow => ({
    receivedAt,
    topic: 'holdoff/x',
    reason: 'payload-empty',
    detail: '',
    payload: Buffer.from('x'),
    payloadBytes: 1,
  });
  const now = wallClock();
  const old = now - (REJECTED_DAYS * 86_400 + 1) * SECOND;
  await database.transaction({ name: 'fill' }, (queries) =>
    writeRejected(queries, [row(old), row(now), row(old)]),
  );
  expect(await database.transaction({ name: 'trim' }, (queries) => trimRejected(queries, now))).toBe(2);
  await database.run(
    statement(
      '',
      `insert into rejected (topic, reason, payload, payload_bytes)
       select 'holdoff/' || i, 'x', repeat('x', 2000000)::bytea, 2000000 from generate_series(1, 150) i`,
    ),
  );
  expect(await trimRejected(database, now)).toBe(1 + 150 - 134); // 256 MiB hold 134 of them
  const kept = await database.many<{ topic: string }>(
    statement('', 'select topic from rejected order by id'),
  );
  expect(kept[0]?.topic).toBe('holdoff/17');
});
