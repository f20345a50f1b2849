import fc from 'fast-check';
import { afterEach, expect, test } from 'vitest';
import { statement } from '../../db/pool.ts';
import { startFollower, type Follower } from '../../server/follow/follower.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { FOLDS } from '../../shared/inference/folds.ts';
import type { WatchCoverage } from '../../shared/inference/watch.ts';
import { foldSiteOnce } from '../fixtures/fold-site.ts';
import {
  caughtUp,
  commit,
  inOrder,
  lifeOf,
  merged,
  putDocument,
  stoppedReasons,
  type Mark,
  type Message,
} from '../fixtures/follow-store.ts';
import { freshDatabase, openTestDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { histories, SITE, type History } from '../fixtures/two-units.ts';
import { casesOf } from '../fixtures/seed.ts';

/**
 * The property above all (architecture 4), on real PostgreSQL: any order of arrival, any batching, duplicates, one to four
 * workers in two servers, servers killed and lost caches, steps cut anywhere, generations: whenever nothing waits, the events
 * are those of what was committed, sorted and folded once.
 */
/** with FOLLOW_ORDER_CASES=100 and more before a release: some two seconds each */
const CASES = casesOf('FOLLOW_ORDER_CASES', 40);
const again = process.env['FOLLOW_ORDER_SEED']
  ? {
      seed: Number(process.env['FOLLOW_ORDER_SEED']),
      path: process.env['FOLLOW_ORDER_PATH'] ?? '',
    }
  : {};

/** What happens to the messages on their way, and to the servers meanwhile. */
const dealings = fc.record({
  /** how much later than in order each message comes, in messages */
  lateness: fc.array(fc.oneof(fc.constant(0), fc.nat(8), fc.nat(150)), { minLength: 20, maxLength: 20 }),
  batch: fc.integer({ min: 5, max: 60 }),
  again: fc.array(fc.nat(300), { maxLength: 8 }),
  workers: fc.integer({ min: 1, max: 4 }),
  rows: fc.constantFrom(60, 400, 100_000),
  piece: fc.constantFrom(16, 4096),
  /** before which batches a server is killed, and which */
  kills: fc.array(fc.tuple(fc.nat(12), fc.boolean()), { maxLength: 4 }),
  /** after which batches everything is awaited and compared */
  stops: fc.array(fc.nat(12), { maxLength: 2 }),
  watched: fc.boolean(),
});
type Dealings = typeof dealings extends fc.Arbitrary<infer T> ? T : never;

let store: FreshDatabase | null = null;
const followers = new Set<Server>();

afterEach(cleanUp);

async function cleanUp(): Promise<void> {
  for (const server of followers) await server.stop();
  followers.clear();
  await store?.drop();
  store = null;
}

/** A server's follower on connections of its own, which can be cut. */
interface Server {
  kill(): Promise<void>;
  stop(): Promise<void>;
  nudge(): void;
}

function startServer(url: string, workers: number, { rows, piece }: Dealings): Server {
  const database = openTestDatabase(url, workers + 2);
  const follower: Follower = startFollower({
    database,
    folds: FOLDS,
    workers,
    rows,
    pollMs: 15,
    run: { milliseconds: 1000, piece, clock: () => performance.now() },
    observe: () => {},
  });
  const server = {
    nudge: () => follower.nudge(),
    async kill() {
      await cutConnections();
      await this.stop();
    },
    async stop() {
      followers.delete(server);
      await follower.stop();
      await database.close();
    },
  };
  followers.add(server);
  return server;
}

const CUT = statement(
  '',
  `select pg_terminate_backend(pid) from pg_stat_activity
   where datname = current_database() and pid <> pg_backend_pid() and state <> 'idle'`,
);

/** As if the process had died: whatever transaction is open is gone. */
const cutConnections = (): Promise<unknown> => store!.database.many(CUT);

test(`${CASES} histories, whatever happens on the way`, { timeout: 30 * 60_000 }, async () => {
  let compared = 0;
  let killed = 0;
  await fc.assert(
    fc.asyncProperty(histories, dealings, async (history, dealt) => {
      const counts = await live(history, dealt);
      compared += counts.compared;
      killed += counts.killed;
    }),
    // shrinking takes many runs: a counterexample is printed with the seed and path that bring it back
    { numRuns: CASES, endOnFailure: true, ...again },
  );
  console.log(`${CASES} histories, compared ${compared} times, servers killed ${killed} times`);
});

async function live(history: History, dealt: Dealings) {
  store = await freshDatabase();
  try {
    return await liveOn(store, history, dealt);
  } finally {
    await cleanUp();
  }
}

async function liveOn(
  { url, database }: FreshDatabase,
  { document, history, messages }: History,
  dealt: Dealings,
) {
  await putDocument(database, SITE, document);
  const shares = [Math.ceil(dealt.workers / 2), Math.floor(dealt.workers / 2)];
  const start = (i: number) => (shares[i]! > 0 ? startServer(url, shares[i]!, dealt) : null);
  const servers = [start(0), start(1)];
  const committed: Message[] = [];
  const marks: Mark[] = [];
  const counts = { compared: 0, killed: 0 };
  const batches = inBatches(messages, dealt);
  for (const [i, batch] of batches.entries()) {
    for (const [when, which] of dealt.kills) {
      const victim = which ? 0 : 1;
      if (when !== i || !servers[victim]) continue;
      await servers[victim].kill();
      servers[victim] = start(victim);
      counts.killed++;
    }
    const mark = dealt.watched ? nextMark(batch, marks) : [];
    committed.push(...batch);
    marks.push(...mark);
    await commit(database, SITE, batch, mark);
    for (const server of servers) server?.nudge();
    if (dealt.stops.includes(i) || i === batches.length - 1) {
      const events = await caughtUp(database, SITE);
      expect(await stoppedReasons(database)).toEqual([]);
      expect(events).toEqual(expected(history, committed, marks));
      counts.compared++;
    }
  }
  return counts;
}

/** Each gateway's messages in order but for their lateness, dealt into batches, some of them twice. */
function inBatches(messages: readonly Message[], { lateness, batch, again }: Dealings): Message[][] {
  const inTime = [...messages].sort((a, b) => newestOf(a) - newestOf(b));
  const arriving = inTime
    .map((message, i) => ({ message, place: i + lateness[i % lateness.length]! }))
    .sort((a, b) => a.place - b.place)
    .map(({ message }) => message);
  const sent = [...arriving, ...again.flatMap((i) => arriving[i % arriving.length] ?? [])];
  return Array.from({ length: Math.ceil(sent.length / batch) }, (_, i) =>
    sent.slice(i * batch, (i + 1) * batch),
  );
}

const newestOf = ({ rows, life }: Message): Instant =>
  life ?? rows.map(({ t }) => t).reduce((a, b) => Math.max(a, b));

/** Ingest listened up to the newest of the batch, without a break. */
function nextMark(batch: readonly Message[], marks: readonly Mark[]): Mark[] {
  const newest = batch.map(newestOf).reduce<Instant>((a, b) => Math.max(a, b), -Infinity);
  const from = marks.at(-1)?.to ?? newest - seconds(2000);
  return newest > from ? [{ from, to: newest }] : [];
}

const watchOf = (marks: readonly Mark[]): WatchCoverage => {
  const [first] = marks;
  return { spans: first ? [{ from: first.from, to: marks.at(-1)!.to }] : [] };
};

const expected = (history: History['history'], messages: readonly Message[], marks: readonly Mark[]) =>
  inOrder(
    foldSiteOnce({
      history,
      rows: merged(messages.flatMap((message) => [...message.rows, ...lifeOf(message)])),
      watch: watchOf(marks),
    }),
  );
