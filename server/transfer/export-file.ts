import { Readable } from 'node:stream';
import type { Queries } from '../../db/pool.ts';
import { readEvents } from '../../db/read-events.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { EventAnswer } from '../../shared/wire/event-answer.ts';
import type { ExportWriter } from '../../shared/wire/export-rows.ts';
import { answerOf } from '../status/read-status.ts';

/** Chunks that wait for a far end that reads slowly, beside the one in its hands. */
const CHUNKS_AHEAD = 2;

/** A file as it is written: made no faster than it is read, and no further once whoever reads has gone. */
export const exportFile = <Row>(writer: ExportWriter<Row>, pages: AsyncIterable<readonly Row[]>): Readable =>
  Readable.from(textOf(writer, pages), { highWaterMark: CHUNKS_AHEAD });

async function* textOf<Row>(
  writer: ExportWriter<Row>,
  pages: AsyncIterable<readonly Row[]>,
): AsyncGenerator<string> {
  let count = 0;
  yield writer.head;
  for await (const rows of pages) {
    count += rows.length;
    yield writer.rows(rows);
  }
  const end = writer.end(count);
  if (end !== '') yield end;
}

const EVENTS = 500;

/** Events of a site that touch the stretch and stand, oldest first, a page at a time. */
export async function* eventsInOrder(
  queries: Queries,
  site: string,
  { from, to }: { readonly from: Instant | null; readonly to: Instant | null },
): AsyncGenerator<EventAnswer[]> {
  const all = { only: null, space: null, panel: null, unit: null, kinds: null };
  for (let after: { start: Instant; id: string } | null = null; ;) {
    const rows = await readEvents(queries, { ...all, site, from, to, after, limit: EVENTS });
    if (rows.length > 0) yield rows.map(answerOf);
    const last = rows.at(-1)?.event;
    if (!last || rows.length < EVENTS) return;
    after = { start: last.start.latest, id: last.id };
  }
}
