import { setImmediate as breathe } from 'node:timers/promises';
import { readLastBefore } from '../../db/read-samples.ts';
import type { Database, Queries } from '../../db/pool.ts';
import { readRecord, recordSources, type DeviceIds, type RecordSource } from '../../db/record.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { FoldContext } from '../../shared/inference/fold.ts';
import type { Ask, Asking, Rows } from '../../shared/replay/fold-subject.ts';
import { openingPage, type NewestRow } from '../../shared/replay/opening.ts';
import { inSnapshot } from '../status/read-status.ts';

/**
 * Brings what asks for rows to its end: each question is one short read-only transaction, and between two of them the process
 * and the database do other things. Stops at the bound, and when it is told to.
 */
export interface Answering {
  readonly database: Database;
  readonly ids: DeviceIds;
  readonly signal: AbortSignal;
  /** rows read of all subjects together */
  readonly rowsBound: number;
  /** each piece that is done, by the instant it has come to */
  readonly came: (ask: Ask) => void;
}

export class TooManyRows extends Error {}

export async function answerAsks<R>(asking: Asking<R>, answering: Answering): Promise<R> {
  const { signal, rowsBound, came } = answering;
  let rows = 0;
  let next = asking.next();
  while (!next.done) {
    signal.throwIfAborted();
    const answer = await answerTo(next.value, answering);
    rows += next.value.kind === 'rows' ? (answer?.page.length ?? 0) : 0;
    if (rows > rowsBound) throw new TooManyRows();
    came(next.value);
    await breathe();
    next = asking.next(answer);
  }
  return next.value;
}

async function answerTo(ask: Ask, { database, ids }: Answering): Promise<Rows | undefined> {
  if (ask.kind === 'breath') return undefined;
  const { context } = ask;
  // member units' edges come from the replay itself, never from the store
  const sources = recordSources(context.history, context.sources, { ...ids, subjects: new Map() });
  return inSnapshot(database, async (queries) => {
    if (ask.kind === 'opening')
      return { page: await opening(queries, context, sources, ask.at), more: false };
    const { page, more } = await readRecord(queries, sources, ask.after, ask.limit);
    return upTo({ page, more }, ask.until);
  });
}

/** The page without what comes after `until`. */
function upTo({ page, more }: Rows, until: Instant): Rows {
  let length = page.length;
  while (length > 0 && page.t[length - 1]! > until) length--;
  return length === page.length ? { page, more } : { page: { ...page, length }, more: false };
}

async function opening(
  queries: Queries,
  context: FoldContext,
  sources: readonly RecordSource[],
  at: Instant,
) {
  const newest: (NewestRow | null)[] = [];
  for (const source of sources) newest.push(await newestAt(queries, source, at));
  return openingPage(context, newest, at);
}

/** By corrected time: of each stretch of the clock, newest first, its last row at or before `at`. */
async function newestAt(queries: Queries, source: RecordSource, at: Instant): Promise<NewestRow | null> {
  const { pointId, shifts } = source;
  if (pointId === null) return null;
  if (shifts.length === 0) return readLastBefore(queries, pointId, at + 1);
  for (const { from, before, by } of [...shifts].reverse()) {
    const row = await readLastBefore(queries, pointId, Math.min(before, at - by + 1));
    if (row && row.t >= from) return { ...row, t: row.t + by };
  }
  return null;
}
