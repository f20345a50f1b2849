import { seconds, type Instant } from '../base/instant.ts';
import { isGood } from '../telemetry/sample.ts';
import type { FoldContext, RecordPage, Source } from './fold.ts';
import { BEGINNING, countedThrough, NEVER, type Horizon } from './horizon.ts';
import { versionAt } from './sources.ts';
import { watchedThrough } from './watch.ts';

/**
 * A position that is surely not past the true one (driver.ts), found in one look at the columns, without a walk over the
 * rows: nothing is taken to have fallen silent on the way. Where the position lies is a matter of cost alone, so this will
 * do unless it leaves more than half of the page to be folded again. null then, where the configuration changes, and where
 * the watch marks don't reach so far.
 */
export function surelyKnown(
  horizon: Horizon,
  context: FoldContext,
  through: Instant,
  page: RecordPage,
  now: Instant,
): Instant | null {
  if (page.length === 0) return null;
  const end = Math.max(now, page.t[page.length - 1]!);
  if (versionAt(context.history, through) !== versionAt(context.history, end)) return null;
  // beyond what was watched a silence can't be told from not having listened, and that holds the position back
  const watched = watchedThrough(context.watch);
  if (watched !== null && watched < end) return null;
  const heard = lastOf(context.sources.length, page);
  const lives = livesOf(horizon, context.sources, heard);
  let position = end;
  for (let i = 0; i < context.sources.length; i++) {
    const known = knownBy(horizon, context, i, heard, lives);
    if (known !== null) position = Math.min(position, known, countedBy(context, i));
  }
  return position >= page.t[page.length >> 1]! ? position : null;
}

const countedBy = (context: FoldContext, index: number): Instant => {
  const { point } = context.sources[index]!;
  return point ? countedThrough(context, point) : NEVER;
};

interface Heard {
  /** newest row, and newest good one, of each source in the page; BEGINNING: none */
  readonly last: Float64Array;
  readonly good: Float64Array;
}

function lastOf(sources: number, page: RecordPage): Heard {
  const last = new Float64Array(sources).fill(BEGINNING);
  const good = new Float64Array(sources).fill(BEGINNING);
  const { t, source, quality, length } = page;
  for (let i = 0; i < length; i++) {
    const at = t[i]!;
    last[source[i]!] = at;
    if (isGood(quality[i]!)) good[source[i]!] = at;
  }
  return { last, good };
}

const gatewayOf = ({ kind, device, point }: Source): string | undefined =>
  kind === 'life' ? device : kind === 'point' ? point?.gateway : undefined;

/** Newest life of each gateway of which the page has any. */
function livesOf(horizon: Horizon, sources: readonly Source[], { last }: Heard): Map<string, Instant> {
  const lives = new Map<string, Instant>();
  for (const [i, source] of sources.entries()) {
    const gateway = gatewayOf(source);
    if (gateway === undefined || last[i] === BEGINNING) continue;
    lives.set(gateway, Math.max(last[i]!, lives.get(gateway) ?? horizon.life[gateway] ?? BEGINNING));
  }
  return lives;
}

/** As `knownThrough` (horizon.ts) will be at the end of the page, or less. */
function knownBy(
  horizon: Horizon,
  context: FoldContext,
  index: number,
  { good }: Heard,
  lives: ReadonlyMap<string, Instant>,
): Instant | null {
  const { kind, device, point } = context.sources[index]!;
  if (kind === 'edges') return context.members[device] ?? null;
  if (kind === 'life' || !point) return null;
  const last = Math.max(horizon.last[index]!, good[index]!);
  if (last === BEGINNING) return null;
  const wasUnknown = horizon.unknown[index] !== null;
  const heard = lives.get(point.gateway);
  const life = heard ?? horizon.life[point.gateway] ?? BEGINNING;
  if (point.reporting.mode === 'polled')
    return wasUnknown && good[index] === BEGINNING ? null : Math.min(last, life - 1);
  if (wasUnknown && heard === undefined) return null;
  return life - Math.max(1, seconds(point.resolutionSeconds));
}
