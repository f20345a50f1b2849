import type { CommitBatch } from '../../db/commit.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { mergeSamples, type Sample } from '../../shared/telemetry/sample.ts';
import type { ImportRow } from '../../shared/wire/import-wire.ts';
import { qualityOf, type Judged, type Judging } from './take-rows.ts';

type Kept = Sample & { readonly pointId: number };

export function judgeSamples({ judge, rows }: Judging<ImportRow>): Judged {
  const faults: Judged['faults'] = [];
  const kept = { samples: new Map<string, Kept>(), lives: new Map<string, Kept>() };
  for (const [row, { point, t: text, v: value, q, conflict }] of rows.entries()) {
    const placed = judge.place(point, text);
    if ('says' in placed) {
      faults.push({ row, says: placed.says });
      continue;
    }
    const { pointId, t }: { pointId: number; t: Instant } = placed;
    const into = point.endsWith('/life') ? kept.lives : kept.samples;
    const key = `${pointId}@${t}`;
    const before = into.get(key);
    const one = { t, value, quality: qualityOf(q, conflict) };
    into.set(key, { pointId, ...(before ? mergeSamples(before, one) : one) });
  }
  const batch: Pick<CommitBatch, 'samples' | 'lives'> = {
    samples: columnsOf(inOrder(kept.samples)),
    lives: columnsOf(inOrder(kept.lives)),
  };
  return { batch, faults };
}

const inOrder = (kept: ReadonlyMap<string, Kept>): Kept[] =>
  [...kept.values()].sort((a, b) => a.pointId - b.pointId || a.t - b.t);

const columnsOf = (rows: readonly Kept[]) => ({
  length: rows.length,
  pointId: rows.map(({ pointId }) => pointId),
  t: rows.map(({ t }) => t),
  value: rows.map(({ value }) => value),
  quality: rows.map(({ quality }) => quality),
});
