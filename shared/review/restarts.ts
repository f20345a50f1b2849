import type { Bounds, Span } from '../base/span.ts';
import type { EventDraft, Measure } from '../inference/event.ts';
import type { SpacingVerdict } from '../inference/panel/spacing.ts';
import type { Outcome } from '../inference/panel/state.ts';

/** One panel's restart after one return of power: planned against seen, spacings, verdict (handbook 5.3). */
export interface PanelRestart {
  readonly event: string;
  readonly panel: string;
  readonly back: Span;
  /** null: still awaited */
  readonly end: Span | null;
  readonly supply: 'utility' | 'generator' | 'not known';
  readonly minimumSeconds: number;
  /** null: there were no two starts to compare */
  readonly verdict: SpacingVerdict | null;
  /** in the order of their starts, then of their names */
  readonly units: readonly UnitRestart[];
  readonly spacings: readonly Spacing[];
}

export interface UnitRestart {
  readonly unit: string;
  readonly outcome: Outcome;
  /** seconds after power's return */
  readonly plannedSeconds: Bounds | null;
  readonly startedSeconds: Bounds | null;
  readonly deviationSeconds: Bounds | null;
  readonly setBy: 'wait' | 'call' | 'unknown' | null;
}

export interface Spacing {
  readonly first: string;
  readonly second: string;
  readonly seconds: Bounds;
  readonly verdict: SpacingVerdict;
  /** the polling period that would have told; 0: only reporting on change; null: it is told */
  readonly tellingPeriodSeconds: number | null;
}

/** What a restart sequence's measures say (shared/inference/panel/restart-event.ts names them). */
export function restartOf(event: EventDraft): PanelRestart {
  const { measures } = event;
  const units = event.members.map((unit) => unitRestart(measures, unit)).sort(byStart);
  return {
    event: event.id,
    panel: event.panel ?? '',
    back: event.start,
    end: event.end,
    supply: (measures['supply'] ?? 'not known') as PanelRestart['supply'],
    minimumSeconds: (measures['minimumSeparationSeconds'] as number | undefined) ?? 0,
    verdict: (measures['verdict'] as SpacingVerdict | undefined) ?? null,
    units,
    spacings: Object.keys(measures).flatMap((name) => spacing(measures, name)),
  };
}

function unitRestart(measures: EventDraft['measures'], unit: string): UnitRestart {
  return {
    unit,
    outcome: (measures[`${unit}.outcome`] as Outcome | undefined) ?? 'not-known',
    plannedSeconds: boundsOf(measures[`${unit}.plannedSeconds`]),
    startedSeconds: boundsOf(measures[`${unit}.startedSeconds`]),
    deviationSeconds: boundsOf(measures[`${unit}.deviationSeconds`]),
    setBy: (measures[`${unit}.setBy`] as UnitRestart['setBy'] | undefined) ?? null,
  };
}

function spacing(measures: EventDraft['measures'], name: string): Spacing[] {
  const [, first, second] = /^([^.>]+)>([^.>]+)\.spacingSeconds$/.exec(name) ?? [];
  if (first === undefined || second === undefined) return [];
  const pair = `${first}>${second}`;
  return [
    {
      first,
      second,
      seconds: boundsOf(measures[name])!,
      verdict: measures[`${pair}.verdict`] as SpacingVerdict,
      tellingPeriodSeconds: (measures[`${pair}.tellingPeriodSeconds`] as number | undefined) ?? null,
    },
  ];
}

const boundsOf = (measure: Measure | undefined): Bounds | null =>
  Array.isArray(measure)
    ? (measure as unknown as Bounds)
    : typeof measure === 'number'
      ? [measure, measure]
      : null;

const byStart = (a: UnitRestart, b: UnitRestart): number =>
  (a.startedSeconds?.[1] ?? Infinity) - (b.startedSeconds?.[1] ?? Infinity) || (a.unit < b.unit ? -1 : 1);

const WORST: readonly SpacingVerdict[] = ['simultaneous', 'cannot-be-told', 'separate'];

/** The worst of several; null: none could be compared. */
export const worstVerdict = (restarts: readonly Pick<PanelRestart, 'verdict'>[]): SpacingVerdict | null =>
  WORST.find((verdict) => restarts.some((one) => one.verdict === verdict)) ?? null;
