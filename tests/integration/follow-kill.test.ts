import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { EventDraft } from '../../shared/inference/event.ts';
import { startChild, type Child } from '../fixtures/child.ts';
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
import { freePort } from '../fixtures/mosquitto.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { histories, SITE, type History } from '../fixtures/two-units.ts';
import { casesOf } from '../fixtures/seed.ts';

/**
 * Two server processes on one database, one of them killed with SIGKILL again and again, and at last left away: the events
 * are those of the record folded once.
 */
const KILLS = casesOf('FOLLOW_KILLS', 5);
/** of some histories the one with the most to infer */
const HISTORY = fc
  .sample(histories, { numRuns: 30, seed: 20_260_302 })
  .map((history) => ({ ...history, events: onceOf(history) }))
  .reduce((a, b) => (b.events.length > a.events.length ? b : a));

function onceOf({ history, messages }: History): EventDraft[] {
  const rows = merged(messages.flatMap((message) => [...message.rows, ...lifeOf(message)]));
  return inOrder(foldSiteOnce({ history, rows, watch: { spans: [] } }));
}

let store: FreshDatabase;
const children = new Set<Child>();
beforeAll(async () => {
  store = await freshDatabase();
});
afterAll(async () => {
  for (const child of children) await child.kill();
  await store.drop();
});

async function serve(): Promise<Child> {
  const port = String(await freePort());
  const child = startChild('server/serve.ts', { DATABASE_URL: store.url, PORT: port });
  children.add(child);
  await child.said(`The server is at http://127.0.0.1:${port}/`);
  return child;
}

test(`a server killed ${KILLS} times while another works, then left away`, async () => {
  const { document, messages } = HISTORY;
  const inTime = [...messages].sort((a, b) => timeOf(a) - timeOf(b));
  await putDocument(store.database, SITE, document);
  const servers = await Promise.all([serve(), serve()]);
  const each = Math.ceil(inTime.length / (KILLS + 1));
  for (let round = 0; round <= KILLS; round++) {
    for (const message of inTime.slice(round * each, (round + 1) * each))
      await commit(store.database, SITE, [message]);
    const victim = servers[round % 2]!;
    await victim.kill(); // with the round's last messages just committed
    children.delete(victim);
    if (round < KILLS) servers[round % 2] = await serve();
  }
  expect(await caughtUp(store.database, SITE)).toEqual(HISTORY.events);
  expect(await stoppedReasons(store.database)).toEqual([]);
  console.log(`${messages.length} messages, ${KILLS + 1} kills, ${HISTORY.events.length} events`);
  const steady = servers[(KILLS + 1) % 2]!;
  expect(await steady.stop()).toBe(0);
  children.delete(steady);
});

const timeOf = ({ rows, life }: Message): number => life ?? rows[0]!.t;
