import type { Queries } from '../../db/pool.ts';
import { readSamples, type SampleRow } from '../../db/read-samples.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { ExportedSample } from '../../shared/wire/export-rows.ts';

export interface ExportedPoint {
  readonly id: number;
  /** `<device>/<signal>` */
  readonly name: string;
}

interface Ahead {
  readonly point: ExportedPoint;
  rows: readonly SampleRow[];
  after: Instant | null;
  isWhole: boolean;
}

/** At most so many rows are held, beside `LEAST` a point where there are more than a thousand points. */
const HELD = 50_000;
const LEAST = 50;
const MOST = 5_000;
const LINES = 500;

/**
 * Samples of many points in order of time, then of the points as given: pages of each by its key, joined. No transaction is
 * held open, however slowly the far end reads; what is committed behind the place reached isn't in it. In order of time,
 * so that whoever takes them in folds once and not once a point. Answers at most 500 rows at a time.
 */
export async function* samplesInOrder(
  queries: Queries,
  points: readonly ExportedPoint[],
  { from, to }: { readonly from: Instant; readonly to: Instant },
): AsyncGenerator<ExportedSample[]> {
  const limit = Math.max(LEAST, Math.min(MOST, Math.floor(HELD / points.length)));
  let lines: Ahead[] = points.map((point) => ({ point, rows: [], after: null, isWhole: false }));
  while (lines.length > 0) {
    for (const line of lines) if (line.rows.length === 0 && !line.isWhole) await readAhead(line);
    const until = lines.reduce((t, line) => (line.isWhole ? t : Math.min(t, line.after!)), Infinity);
    const rows = lines.flatMap((line) => takeThrough(line, until)).sort((a, b) => a.t - b.t);
    for (let i = 0; i < rows.length; i += LINES) yield rows.slice(i, i + LINES);
    lines = lines.filter(({ isWhole, rows }) => !isWhole || rows.length > 0);
  }

  async function readAhead(line: Ahead): Promise<void> {
    const asked = { pointId: line.point.id, from, before: to, after: line.after, limit };
    line.rows = await readSamples(queries, asked);
    line.isWhole = line.rows.length < limit;
    line.after = line.rows.at(-1)?.t ?? line.after;
  }
}

function takeThrough(line: Ahead, until: Instant): ExportedSample[] {
  const later = line.rows.findIndex(({ t }) => t > until);
  const count = later < 0 ? line.rows.length : later;
  const taken = line.rows.slice(0, count);
  line.rows = line.rows.slice(count);
  return taken.map((row) => ({ point: line.point.name, ...row }));
}
