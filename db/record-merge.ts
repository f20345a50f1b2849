import type { Instant } from '../shared/base/instant.ts';
import type { UnitEdge } from '../shared/inference/edge.ts';
import type { Interval } from '../shared/telemetry/interval.ts';
import { emptyColumns, type Columns } from './record-columns.ts';
import type { RecordStretch } from './record.ts';

/** An edge of a member unit, or a meter's interval, as a row of the record. */
export interface EdgeRow {
  readonly source: number;
  readonly t: Instant;
  readonly edge?: UnitEdge;
  readonly interval?: Interval;
}

/**
 * Samples and edges, each asked for one row more than `limit`, as one page in time order: rows of equal t by source, cut
 * between two instants. Where either was cut off, both together have a row at place `limit`; the page ends before its
 * instant, so it never passes the end of what was read.
 */
export function mergeStretch(samples: Columns, edges: readonly EdgeRow[], limit: number): RecordStretch {
  const cut = instantAtPlace(samples, edges, limit);
  const page = edges.length === 0 ? headOf(samples, cut) : merged(samples, edges, cut);
  return { page, more: cut !== Infinity };
}

/** The instant of row `place` of both together; Infinity if there are fewer. */
function instantAtPlace(samples: Columns, edges: readonly EdgeRow[], place: number): Instant {
  if (samples.length + edges.length <= place) return Infinity;
  let s = 0;
  let e = 0;
  let at: Instant = Infinity;
  for (let i = 0; i <= place; i++) {
    const sampleAt = s < samples.length ? samples.t[s]! : Infinity;
    const edgeAt = edges[e]?.t ?? Infinity;
    at = Math.min(sampleAt, edgeAt);
    if (sampleAt <= edgeAt) s++;
    else e++;
  }
  return at;
}

function headOf(columns: Columns, cut: Instant): Columns {
  const length = rowsBefore(columns, cut);
  return {
    length,
    t: columns.t.subarray(0, length),
    source: columns.source.subarray(0, length),
    value: columns.value.subarray(0, length),
    quality: columns.quality.subarray(0, length),
  };
}

function rowsBefore(columns: Columns, cut: Instant): number {
  let length = columns.length;
  while (length > 0 && columns.t[length - 1]! >= cut) length--;
  return length;
}

function merged(samples: Columns, edges: readonly EdgeRow[], cut: Instant): RecordStretch['page'] {
  const fromSamples = rowsBefore(samples, cut);
  const fromEdges = edges.filter((row) => row.t < cut);
  const page = emptyColumns(fromSamples + fromEdges.length);
  const pageEdges = new Array<UnitEdge | undefined>(page.t.length);
  const intervals = new Array<Interval | undefined>(page.t.length);
  for (let s = 0, e = 0; page.length < page.t.length; page.length++) {
    const edge = fromEdges[e];
    const takeSample = s < fromSamples && (!edge || sampleFirst(samples, s, edge));
    if (takeSample) copyRow(samples, s++, page);
    else if (edge) {
      page.t[page.length] = edge.t;
      page.source[page.length] = edge.source;
      pageEdges[page.length] = edge.edge;
      intervals[page.length] = edge.interval;
      page.quality[page.length] = edge.interval?.quality ?? 0;
      e++;
    }
  }
  return { ...page, edges: pageEdges, intervals };
}

const sampleFirst = (samples: Columns, s: number, edge: EdgeRow): boolean =>
  samples.t[s]! < edge.t || (samples.t[s] === edge.t && samples.source[s]! <= edge.source);

function copyRow(from: Columns, row: number, to: Columns): void {
  to.t[to.length] = from.t[row]!;
  to.source[to.length] = from.source[row]!;
  to.value[to.length] = from.value[row]!;
  to.quality[to.length] = from.quality[row]!;
}
