import { setTimeout as delay } from 'node:timers/promises';
import { readBacklog } from '../db/follow-due.ts';
import { readClaimedClocks } from '../db/follow-work.ts';
import { readIngests, type RegisteredIngest } from '../db/ingests.ts';
import { readStoreLoad, type StoreLoad } from '../db/read-load.ts';
import type { Database } from '../db/pool.ts';
import { readDatabaseVersion } from '../db/read-service.ts';
import { INFERENCE_BEHIND, INGEST_SILENT } from '../shared/alarms/watcher.ts';
import { formatInstant, inSeconds, seconds, type Instant } from '../shared/base/instant.ts';
import { spokenLength } from '../shared/wire/durations.ts';
import type { ReadyAnswer } from '../shared/wire/service.ts';
import { correctClocks } from './follow/clocks.ts';
import type { Setups } from './follow/setup.ts';
import { ingestsPart } from './ingests-part.ts';
import { errorLine } from './notify/channel.ts';
import type { Part, Service } from './service.ts';
import { inSnapshot } from './status/read-status.ts';

/**
 * What `GET /api/ready` says: each part, whether it is well, in words, and since when it is so. A part that gates takes this
 * server out of service while it fails; the others are told, for a page is worth having while an ingest is away.
 *
 * Looked at every few seconds, whether somebody asks or not, so that `since` is true; a part that says nothing counts as away.
 */
export interface Readiness {
  answer(): Promise<ReadyAnswer>;
  stop(): void;
}

const LOOK_EVERY_MS = 5_000;
/** An answer younger than this is given again. */
const FRESH_MS = 500;
/** A database that doesn't answer within this is away. */
const PATIENCE_MS = 2_000;
/** Notices that are due for longer than this wait for something else than their turn. */
const NOTICES_BEHIND = seconds(60);

export function watchReadiness(service: Service): Readiness {
  const times = new PartTimes();
  let last: { readonly at: number; readonly answer: Promise<ReadyAnswer> } | null = null;
  const answer = () => {
    if (!last || performance.now() - last.at > FRESH_MS)
      last = { at: performance.now(), answer: look(service, times) };
    return last.answer;
  };
  const ticking = setInterval(() => void answer(), LOOK_EVERY_MS);
  ticking.unref();
  void answer();
  return { answer, stop: () => clearInterval(ticking) };
}

/** Since when each part is as it is. */
class PartTimes {
  readonly #parts = new Map<string, { readonly ok: boolean; readonly since: Instant }>();

  since({ name, ok }: Part, now: Instant): Instant {
    const before = this.#parts.get(name);
    if (before?.ok === ok) return before.since;
    this.#parts.set(name, { ok, since: now });
    return now;
  }
}

async function look(service: Service, times: PartTimes): Promise<ReadyAnswer> {
  const now = service.now();
  const store = await inTime(readStore(service.database, service.setups, now)).catch((error: unknown) =>
    errorLine(error),
  );
  const parts = [...storeParts(service, store, now), ...service.parts()];
  const known = typeof store === 'string' ? null : store;
  return {
    ready: parts.every(({ ok, gates }) => ok || gates === false),
    parts: parts.map((part) => ({
      name: part.name,
      ok: part.ok,
      says: part.says,
      gates: part.gates !== false,
      since: formatInstant(times.since(part, now)),
    })),
    database: {
      kind: service.databaseKind,
      version: known?.version ?? null,
      timescale: known?.timescale ?? null,
    },
    inference: { pending: known?.pending ?? 0, oldestWaitSeconds: known ? waitOf(known.oldest, now) : null },
  };
}

const waitOf = (oldest: Instant | null, now: Instant): number | null =>
  oldest === null ? null : Math.max(0, inSeconds(now - oldest));

interface StoreLook extends StoreLoad {
  readonly version: string;
  readonly timescale: string | null;
  readonly pending: number;
  readonly oldest: Instant | null;
  /** those that share the messages */
  readonly ingests: readonly RegisteredIngest[];
}

/** Everything that lies in the database and tells how the line does. */
export const readStore = (database: Database, setups: Setups, now: Instant): Promise<StoreLook> =>
  inSnapshot(database, async (queries) => {
    const versions = await readDatabaseVersion(queries);
    const clocks = correctClocks(await readClaimedClocks(queries), setups.known);
    const backlog = await readBacklog(queries, clocks, null);
    const ingests = await readIngests(queries);
    return { ...versions, ...backlog, ingests, ...(await readStoreLoad(queries, now)) };
  });

async function inTime<T>(answer: Promise<T>): Promise<T> {
  const over = new AbortController();
  const late = delay(PATIENCE_MS, undefined, { signal: over.signal }).then(() => {
    throw new Error(`no answer within ${PATIENCE_MS / 1_000} s`);
  });
  late.catch(() => {});
  answer.catch(() => {});
  try {
    return await Promise.race([answer, late]);
  } finally {
    over.abort();
  }
}

/** `store`: what the database said, or why it said nothing; then nothing is known of what lies in it. */
function storeParts(service: Service, store: StoreLook | string, now: Instant): Part[] {
  const part = (name: string, says: string, ok: boolean): Part => ({ name, ok, says, gates: false });
  if (typeof store === 'string') {
    const notKnown = ['storage', 'watch', 'inference', 'notices'];
    return [
      { name: 'database', ok: false, says: `not reachable: ${store}` },
      ...notKnown.map((name) => part(name, 'not known: the database isn’t reachable', false)),
    ];
  }
  const { version, timescale } = store;
  const where = service.databaseKind === 'embedded' ? 'the embedded PostgreSQL' : 'PostgreSQL';
  return [
    { name: 'database', ok: true, says: `${where} ${version}` },
    part(
      'storage',
      timescale === null ? 'plain PostgreSQL, no TimescaleDB' : `TimescaleDB ${timescale}`,
      true,
    ),
    watchPart(store.watched, now),
    ...ingestsPart(store.ingests),
    inferencePart(store, now),
    noticesPart(store, now),
  ];
}

/** Everything received is committed through the newest watch mark. */
function watchPart(watched: Instant | null, now: Instant): Part {
  const name = 'watch';
  if (watched === null) return { name, ok: false, gates: false, says: 'no ingest has ever listened' };
  const age = now - watched;
  const through = `everything received is committed through ${formatInstant(watched)}`;
  if (age < INGEST_SILENT) return { name, ok: true, gates: false, says: through };
  return {
    name,
    ok: false,
    gates: false,
    says: `nobody listens for ${spokenLength(inSeconds(age))}: ${through}`,
  };
}

function inferencePart({ pending, oldest }: StoreLook, now: Instant): Part {
  const age = oldest === null ? 0 : now - oldest;
  const waits = `${pending} ${pending === 1 ? 'subject or work item waits' : 'subjects and work items wait'}`;
  const says = pending === 0 ? 'nothing waits' : `${waits}, the oldest for ${spokenLength(inSeconds(age))}`;
  return { name: 'inference', ok: age < INFERENCE_BEHIND, gates: false, says };
}

function noticesPart({ deliveries, escalations }: StoreLook, now: Instant): Part {
  const due = [escalations, ...deliveries];
  const count = due.reduce((sum, one) => sum + one.count, 0);
  const oldest = due.reduce((least, one) => Math.min(least, one.oldest ?? Infinity), Infinity);
  const ok = now - oldest < NOTICES_BEHIND || oldest === Infinity;
  const says =
    count === 0
      ? 'nothing is due'
      : `${count} ${count === 1 ? 'is' : 'are'} due, the first since ${formatInstant(oldest)}`;
  return { name: 'notices', ok, gates: false, says };
}
