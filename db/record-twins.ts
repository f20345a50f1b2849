import type { RecordPage } from '../shared/inference/fold.ts';
import { mergeSamples } from '../shared/telemetry/sample.ts';
import { emptyColumns } from './record-columns.ts';

/**
 * Two samples of one point that a clock's dated offsets bring to the same instant are one sample, merged as any two are
 * (contract 1.4): which of them the database gives first must not matter.
 */
export function joinTwins(page: RecordPage): RecordPage {
  const first = firstTwin(page);
  if (first < 0) return page;
  const joined = emptyColumns(page.length);
  const edges: RecordPage['edges'] | undefined = page.edges?.slice(0, 0);
  const intervals: RecordPage['intervals'] | undefined = page.intervals?.slice(0, 0);
  for (let i = 0; i < page.length; i++) {
    const last = joined.length - 1;
    if (last >= 0 && isTwin(page, i) && joined.source[last] === page.source[i]) {
      const one = mergeSamples(sampleAt(joined, last), sampleAt(page, i));
      joined.value[last] = one.value;
      joined.quality[last] = one.quality;
      continue;
    }
    const at = joined.length++;
    joined.t[at] = page.t[i]!;
    joined.source[at] = page.source[i]!;
    joined.value[at] = page.value[i]!;
    joined.quality[at] = page.quality[i]!;
    if (edges) (edges as unknown[]).push(page.edges![i]);
    if (intervals) (intervals as unknown[]).push(page.intervals![i]);
  }
  return { ...joined, ...(edges ? { edges } : {}), ...(intervals ? { intervals } : {}) };
}

const sampleAt = ({ t, value, quality }: RecordPage, i: number) => ({
  t: t[i]!,
  value: value[i]!,
  quality: quality[i]!,
});

/** The row before is of the same source and instant; edges of one unit and instant are several things that happened, an interval is no sample. */
const isTwin = (page: RecordPage, i: number): boolean =>
  i > 0 &&
  page.t[i] === page.t[i - 1] &&
  page.source[i] === page.source[i - 1] &&
  !page.edges?.[i] &&
  !page.intervals?.[i] &&
  !page.intervals?.[i - 1];

function firstTwin(page: RecordPage): number {
  for (let i = 1; i < page.length; i++) if (isTwin(page, i)) return i;
  return -1;
}
