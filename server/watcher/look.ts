import { setTimeout as delay } from 'node:timers/promises';
import { readBacklog } from '../../db/follow-due.ts';
import { readClaimedClocks } from '../../db/follow-work.ts';
import { openDatabase, type Database } from '../../db/pool.ts';
import { readLastMark } from '../../db/watch-marks.ts';
import { INFERENCE_BEHIND, INGEST_SILENT, type Sight, type Sights } from '../../shared/alarms/watcher.ts';
import { formatInstant, inSeconds, type Instant } from '../../shared/base/instant.ts';
import { spokenLength } from '../../shared/wire/durations.ts';
import { correctClocks } from '../follow/clocks.ts';
import type { Setups } from '../follow/setup.ts';
import { errorLine } from '../notify/channel.ts';
import type { Service } from '../service.ts';

/** One look at what the server leans on, over a connection of its own, so that a full pool isn't taken for a dead database. */
export interface LookMeans {
  readonly databaseUrl: string;
  readonly setups: Setups;
  readonly parts: Service['parts'];
  readonly now: () => Instant;
  /** µs; null: as the rules say (shared/alarms/watcher.ts) */
  readonly bounds?: { readonly silent: number; readonly behind: number };
}

const ANSWER_WITHIN_MS = 5_000;
const WELL: Sight = { kind: 'well' };
const NOT_KNOWN: Sight = { kind: 'not-known' };
const wrong = (says: string): Sight => ({ kind: 'wrong', says });

export interface Looker {
  look(): Promise<Sights>;
  close(): Promise<void>;
}

export function makeLooker(means: LookMeans): Looker {
  const database = openDatabase({
    url: means.databaseUrl,
    name: 'holdoff-watcher',
    connections: 1,
    statementTimeoutMs: ANSWER_WITHIN_MS,
    connectTimeoutMs: ANSWER_WITHIN_MS,
  });
  return { look: () => look(database, means), close: () => database.close() };
}

async function look(database: Database, means: LookMeans): Promise<Sights> {
  const broker = brokerSight(means.parts());
  try {
    const { mark, oldest } = await inTime(readProgress(database, means));
    return {
      database: WELL,
      broker,
      // without its broker ingest marks nothing: one outage, one message
      ingest: broker.kind === 'wrong' ? NOT_KNOWN : ingestSight(mark, means),
      inference: inferenceSight(oldest, means),
    };
  } catch (error) {
    return { database: wrong(errorLine(error)), broker, ingest: NOT_KNOWN, inference: NOT_KNOWN };
  }
}

/** A database that takes the connection and says nothing is away as well. */
async function inTime<T>(answer: Promise<T>): Promise<T> {
  const over = new AbortController();
  const late = delay(2 * ANSWER_WITHIN_MS, undefined, { signal: over.signal }).then(() => {
    throw new Error(`no answer within ${(2 * ANSWER_WITHIN_MS) / 1000} s`);
  });
  late.catch(() => {});
  try {
    return await Promise.race([answer, late]);
  } finally {
    over.abort();
    answer.catch(() => {});
  }
}

/** Of the ingest in this process; a server by itself knows its broker only by ingest's marks. */
function brokerSight(parts: ReturnType<Service['parts']>): Sight {
  const broker = parts.find(({ name }) => name === 'broker');
  if (!broker) return NOT_KNOWN;
  if (!broker.ok) return wrong(broker.says);
  const certificate = parts.find(({ name }) => name === 'broker-certificate');
  return certificate?.isSoonWrong ? wrong(`The certificate of its TLS port ${certificate.says}.`) : WELL;
}

const readProgress = (database: Database, { setups }: LookMeans) =>
  database.transaction(
    { name: 'watcher', isolation: 'repeatable read', readOnly: true, retries: 0 },
    async (queries) => {
      const clocks = correctClocks(await readClaimedClocks(queries), setups.known);
      const { oldest } = await readBacklog(queries, clocks, null);
      return { mark: await readLastMark(queries), oldest };
    },
  );

/** Where nothing was ever marked, no ingest has run yet. */
function ingestSight(mark: Instant | null, { now, bounds }: LookMeans): Sight {
  if (mark === null || now() - mark <= (bounds?.silent ?? INGEST_SILENT)) return WELL;
  return wrong(`The last mark that it watches is of ${formatInstant(mark)}.`);
}

function inferenceSight(oldest: Instant | null, { now, bounds }: LookMeans): Sight {
  if (oldest === null || now() - oldest <= (bounds?.behind ?? INFERENCE_BEHIND)) return WELL;
  return wrong(`What waits longest has waited for ${spokenLength(inSeconds(now() - oldest))}.`);
}
