import { seconds } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { observabilityOf } from '../../shared/inference/observability.ts';
import { most, rankOf, type Knowable, type Known } from '../../shared/inference/observability/knowable.ts';
import type { SignalName } from '../../shared/telemetry/signals.ts';
import type { Site } from '../../shared/telemetry/site.ts';
import type { TraceSignal } from './trace.ts';
import type { TrueEvent } from './true-event.ts';

/**
 * What the tool itself says can be known of one unit (shared/inference/observability.ts), asked of true events and of
 * published ones: the bench scores the statement along with the inference.
 */
export interface Stated {
  readonly kinds: ReadonlyMap<string, readonly Knowable[]>;
  /** µs that a stretch of the signal must last to be seen */
  readonly shortest: ReadonlyMap<SignalName, number>;
}

const keyOf = (kind: string, cause: string | null): string => `${kind}: ${cause ?? ''}`;

/** `jitter`: the share of its period by which a poll may be late, which no configuration knows. */
export function statedOf(site: Site, unit: string, jitter = 0): Stated {
  const { kinds, blind } = observabilityOf(site, unit)!;
  const byKey = new Map<string, Knowable[]>();
  for (const row of kinds)
    // under its own cause, and under none for a truth whose cause isn't judged
    for (const key of new Set([keyOf(row.kind, row.cause), keyOf(row.kind, null)]))
      byKey.set(key, [...(byKey.get(key) ?? []), row]);
  return {
    kinds: byKey,
    shortest: new Map(
      blind.map(({ signal, shortestSeconds }) => [signal, seconds(shortestSeconds * (1 + jitter))]),
    ),
  };
}

/** How surely a true event can be known by the statement: its row, and whether all that it leans on lasts long enough. */
export function saysOf({ kinds, shortest }: Stated, truth: TrueEvent): Known {
  const rows = kinds.get(keyOf(truth.kind, truth.cause)) ?? [];
  const known = most(
    ...rows
      .filter(({ belowSeconds }) => !truth.fitsPowerUp || belowSeconds === undefined)
      .map((row) => row.known),
  );
  const isLongEnough = truth.leansOn.every(({ signal, from, to }) => {
    const wire = WIRE[signal];
    const least = wire === undefined ? undefined : shortest.get(wire);
    return least === undefined || to - from >= least;
  });
  return isLongEnough ? known : 'not-at-all';
}

/** What of a published event goes beyond the statement; null: nothing does. */
export function beyond({ kinds }: Stated, event: EventDraft): 'certain' | 'probable' | null {
  const rows = kinds.get(keyOf(event.kind, event.cause)) ?? [];
  const known = most(...rows.map((row) => row.known));
  const why = most(...rows.map((row) => row.causeKnown ?? 'certain'));
  const isMore = (said: Known, stated: Known): boolean => rankOf(said) > rankOf(stated);
  const cause = event.cause === null ? null : event.causeCertainty;
  if (event.certainty === 'certain' && isMore('certain', known)) return 'certain';
  if (cause === 'certain' && isMore('certain', why)) return 'certain';
  return isMore(event.certainty, known) || (cause !== null && isMore(cause, why)) ? 'probable' : null;
}

const WIRE: Partial<Record<TraceSignal, SignalName>> = {
  volts: 'control-voltage',
  call: 'cooling-call',
  high: 'high-pressure',
  low: 'low-pressure',
  output: 'compressor-output',
  alarm: 'lockout-alarm',
  current: 'compressor-current',
};
