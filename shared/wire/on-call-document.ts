import Type, { type Static, type TSchema } from 'typebox';
import type { Policy } from '../people/escalation.ts';
import type { Night } from '../people/must-go.ts';
import type { Roster } from '../people/roster.ts';
import { isZone, parseClock, parseDate } from '../people/wall-time.ts';
import { choice, nullable } from './schema.ts';
import { schemaFaults, type Fault } from './schema-faults.ts';

/**
 * Rosters and policies as people write them: days as `2026-03-07`, times of day as `20:00`, both on the wall of the
 * roster's zone; people by their ids.
 */
const closed = <P extends Record<string, TSchema>>(properties: P) =>
  Type.Object(properties, { additionalProperties: false });
const PersonId = Type.String({ minLength: 1, maxLength: 100 });
const Day = Type.String({ pattern: '^\\d{4}-\\d{2}-\\d{2}$' });
const Clock = Type.String({ pattern: '^([01]\\d|2[0-3]):[0-5]\\d$' });
export const DocumentName = Type.String({ minLength: 1, maxLength: 100 });

const LayerDocument = closed({
  name: DocumentName,
  people: Type.Array(PersonId, { maxItems: 50 }),
  startsOn: Day,
  endsOn: Type.Optional(nullable(Day)),
  handOver: Clock,
  days: Type.Integer({ minimum: 1, maximum: 366 }),
  hours: Type.Optional(
    nullable(
      closed({
        weekdays: Type.Array(Type.Integer({ minimum: 1, maximum: 7 }), { maxItems: 7 }),
        from: Clock,
        to: Clock,
      }),
    ),
  ),
  holidays: Type.Optional(choice('as-ever', 'not', 'only')),
});

export const RosterDocument = closed({
  zone: Type.String({ maxLength: 64 }),
  layers: Type.Array(LayerDocument, { maxItems: 10 }),
  holidays: Type.Optional(Type.Array(Day, { maxItems: 2000 })),
});
export type RosterDocument = Static<typeof RosterDocument>;

const Target = closed({ kind: choice('roster', 'person'), id: PersonId });
const Targets = Type.Array(Target, { maxItems: 20 });

export const PolicyDocument = closed({
  steps: Type.Array(closed({ to: Targets, waitSeconds: Type.Integer({ minimum: 60, maximum: 86_400 }) }), {
    minItems: 1,
    maxItems: 20,
  }),
  repeats: Type.Integer({ minimum: 0, maximum: 10 }),
  fallback: Targets,
  night: closed({ from: Clock, to: Clock, alwaysAtOnce: Type.Boolean() }),
});
export type PolicyDocument = Static<typeof PolicyDocument>;

export type Parsed<T> =
  { readonly ok: true; readonly value: T } | { readonly ok: false; readonly faults: readonly Fault[] };

/** A roster, or every fault with its JSON Pointer. */
export function parseRoster(id: string, name: string, document: unknown): Parsed<Roster> {
  const faults = schemaFaults(RosterDocument, document);
  if (faults.length > 0) return { ok: false, faults };
  const { zone, layers, holidays = [] } = document as RosterDocument;
  const wrong = rosterFaults(document as RosterDocument);
  if (wrong.length > 0) return { ok: false, faults: wrong };
  const value: Roster = {
    id,
    name,
    zone,
    holidays: holidays.map((day) => parseDate(day)!),
    layers: layers.map((layer) => ({
      name: layer.name,
      people: layer.people,
      startsOn: parseDate(layer.startsOn)!,
      endsOn: layer.endsOn == null ? null : parseDate(layer.endsOn)!,
      handOver: parseClock(layer.handOver)!,
      days: layer.days,
      hours:
        layer.hours == null
          ? null
          : {
              weekdays: layer.hours.weekdays,
              from: parseClock(layer.hours.from)!,
              to: parseClock(layer.hours.to)!,
            },
      holidays: layer.holidays ?? 'as-ever',
    })),
  };
  return { ok: true, value };
}

const NO_DAY = 'There is no such day: give one of the calendar, as 2026-03-07.';

function rosterFaults({ zone, layers, holidays = [] }: RosterDocument): Fault[] {
  const dated = [
    ...layers.flatMap(({ startsOn, endsOn }, n) => [
      { pointer: `/layers/${n}/startsOn`, day: startsOn },
      { pointer: `/layers/${n}/endsOn`, day: endsOn ?? startsOn },
    ]),
    ...holidays.map((day, n) => ({ pointer: `/holidays/${n}`, day })),
  ];
  return [
    ...(isZone(zone)
      ? []
      : [{ pointer: '/zone', message: 'No such zone: give one as America/Chicago or Europe/Berlin.' }]),
    ...dated
      .filter(({ day }) => parseDate(day) === null)
      .map(({ pointer }) => ({ pointer, message: NO_DAY })),
  ];
}

export interface ParsedPolicy {
  readonly policy: Policy;
  readonly night: Omit<Night, 'zone'>;
}

/** A policy and the night that it keeps, or every fault with its JSON Pointer. */
export function parsePolicy(document: unknown): Parsed<ParsedPolicy> {
  const faults = schemaFaults(PolicyDocument, document);
  if (faults.length > 0) return { ok: false, faults };
  const { steps, repeats, fallback, night } = document as PolicyDocument;
  const value: ParsedPolicy = {
    policy: {
      steps: steps.map(({ to, waitSeconds }) => ({ targets: to, waitSeconds })),
      repeats,
      fallback,
    },
    night: {
      from: parseClock(night.from)!,
      to: parseClock(night.to)!,
      alwaysAtOnce: night.alwaysAtOnce,
    },
  };
  return { ok: true, value };
}
