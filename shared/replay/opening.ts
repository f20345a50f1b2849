import { seconds, type Instant } from '../base/instant.ts';
import type { FoldContext, RecordPage } from '../inference/fold.ts';
import { SILENT_PERIODS } from '../inference/horizon.ts';
import { enterVersion, versionAt } from '../inference/sources.ts';
import { isGood } from '../telemetry/sample.ts';

/** The newest row at or before an instant, of one source. */
export interface NewestRow {
  readonly t: Instant;
  readonly value: number;
  readonly quality: number;
}

/**
 * A fold that begins in the middle of the record is told first what stood then: of each source its newest row, dated at the
 * beginning. What had been silent too long by then (handbook 3, "Silence") isn't told: it is not known until it speaks.
 */
export function openingPage(
  context: FoldContext,
  newest: readonly (NewestRow | null)[],
  at: Instant,
): RecordPage {
  enterVersion(context, versionAt(context.history, at));
  const rows = context.sources.flatMap((_, source) => {
    const row = newest[source];
    return row && isGood(row.quality) && stands(context, newest, source, at) ? [{ ...row, source }] : [];
  });
  return {
    length: rows.length,
    t: rows.map(() => at),
    source: rows.map(({ source }) => source),
    value: rows.map(({ value }) => value),
    quality: rows.map(({ quality }) => quality),
  };
}

function stands(
  context: FoldContext,
  newest: readonly (NewestRow | null)[],
  source: number,
  at: Instant,
): boolean {
  const { kind, point, device } = context.sources[source]!;
  if (kind === 'edges' || (kind === 'point' && !point)) return false;
  if (point?.reporting.mode === 'polled')
    return at - newest[source]!.t <= seconds(SILENT_PERIODS * point.reporting.seconds);
  const gateway = kind === 'life' ? device : point!.gateway;
  const period = context.site.gateways.find(({ id }) => id === gateway)?.heartbeatSeconds ?? null;
  if (period === null) return true;
  const life = context.sources.findIndex((one) => one.kind === 'life' && one.device === gateway);
  const lived = Math.max(newest[life]?.t ?? -Infinity, newest[source]!.t);
  return at - lived <= seconds(SILENT_PERIODS * period);
}
