import type { Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';
import type { Certainty, EventDraft, EventKind } from '../inference/event.ts';

/** What of an event says something of the supply: enough to tell which of them are one power event. */
export interface SupplyFact {
  readonly id: string;
  readonly site: string;
  readonly panel: string | null;
  readonly unit: string | null;
  readonly kind: SupplyKind;
  readonly cause: string | null;
  readonly certainty: Certainty;
  readonly start: Span;
  /** `latest` of its end; null: it lasts */
  readonly end: Instant | null;
  /** of a dip or swell: per unit of declared voltage, the least that it may have been; null: not measured */
  readonly residual: number | null;
  /** a dip that begins at the start of a unit of the same panel: its own load made it, not the supply */
  readonly atOwnStart: boolean;
}

export const SUPPLY_KINDS = [
  'power-loss',
  'interruption',
  'voltage-sag',
  'voltage-swell',
  'generator-supply',
  'restart-sequence',
  'simultaneous-start',
] as const satisfies readonly EventKind[];
export type SupplyKind = (typeof SUPPLY_KINDS)[number];

export const isSupplyKind = (kind: string): kind is SupplyKind =>
  (SUPPLY_KINDS as readonly string[]).includes(kind);

/**
 * Does it make a power event by itself? One unit's own loss doesn't (handbook 5.1: all wired units of a panel must lose
 * power together, which their cause `supply` says), nor do starts; a panel's return of power does where more than one
 * unit's word stands behind it.
 */
export function isSeed({ kind, cause, certainty }: SupplyFact): boolean {
  if (kind === 'power-loss') return cause === 'supply';
  if (kind === 'restart-sequence') return certainty !== 'possible';
  return kind !== 'simultaneous-start';
}

/** Its beginning is the supply's own doing, so that sites can be compared by it. */
export const isOnset = (fact: SupplyFact): boolean =>
  isSeed(fact) && fact.kind !== 'generator-supply' && fact.kind !== 'restart-sequence';

/** An event as a fact of the supply; null: it says nothing of it. Starts in ordinary running don't. */
export function factOf(event: EventDraft, atOwnStart = false): SupplyFact | null {
  const { id, site, panel, unit, kind, cause, certainty, start, end, measures } = event;
  if (!isSupplyKind(kind) || cause === 'unit-only' || cause === 'in-service') return null;
  const measured = measures['residualPerUnit'];
  const residual = Array.isArray(measured) ? (measured as readonly number[])[0]! : measured;
  return {
    id,
    site,
    panel,
    unit,
    kind,
    cause,
    certainty,
    start,
    end: end?.latest ?? null,
    residual: typeof residual === 'number' ? residual : null,
    atOwnStart,
  };
}
