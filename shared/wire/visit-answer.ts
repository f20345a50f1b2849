import Type, { type Static } from 'typebox';
import { OWNER_STEPS } from '../people/ownership.ts';
import { CHECK_IDS } from '../visit/checks.ts';
import { FOUND_CAUSES, READING_KINDS, READING_MEASURES } from '../visit/findings.ts';
import { AlarmWithJournal, WorkAnswer } from './alarm-answer.ts';
import { WireCause, WireCertainty, WireEventKind } from './event-answer.ts';
import { choice, Count, Id, IsoInstant, nullable, WireBounds, WireSpan } from './schema.ts';
import { UnitFacts, UnitSetting } from './unit-view.ts';

/** An alarm as whoever goes there has it in the hand (handbook 8), and what they send from there. */
const Command = Type.Optional(Type.String({ format: 'uuid' }));
/** when it was pressed, where it waited to be sent */
const SaidAt = Type.Optional(IsoInstant);

export const StepAsk = Type.Object(
  {
    step: choice(...OWNER_STEPS),
    command: Command,
    saidAt: SaidAt,
    units: Type.Optional(
      Type.Array(Id, {
        maxItems: 200,
        description: 'of `on-site`: units to put into work in progress; default: the alarm’s own',
      }),
    ),
  },
  { additionalProperties: false },
);

const Words = (most: number) => Type.String({ minLength: 1, maxLength: most });
const findings = {
  /** what the control itself showed before power was broken */
  shown: nullable(Words(500)),
  cause: choice(...FOUND_CAUSES),
  causeSays: nullable(Words(500)),
  action: Words(2000),
  parts: Type.Array(Words(200), { maxItems: 50 }),
  readings: Type.Array(
    Type.Object(
      {
        of: choice(...READING_KINDS),
        value: Type.Number({ minimum: -1e6, maximum: 1e6 }),
        measure: choice(...READING_MEASURES),
      },
      { additionalProperties: false },
    ),
    { maxItems: 50 },
  ),
};
export const FindingsAsk = Type.Object(
  { ...findings, command: Command, saidAt: SaidAt },
  { additionalProperties: false },
);
export type FindingsAsk = Static<typeof FindingsAsk>;

const written = { id: Id, by: Type.String(), at: IsoInstant, saidAt: nullable(IsoInstant) };
export const FindingsAnswer = Type.Object({ ...written, ...findings });
export type FindingsAnswer = Static<typeof FindingsAnswer>;

export const StepAnswer = Type.Object({ ...written, step: choice(...OWNER_STEPS) });
export type StepAnswer = Static<typeof StepAnswer>;

/** The watched repair (shared/visit/watch.ts); what a kind doesn't have is null. */
export const WatchAnswer = Type.Object({
  kind: choice('standing', 'not-known', 'waiting', 'running', 'stopped', 'holding', 'proven', 'failed'),
  /** since when it runs; when it stopped, failed or was proven */
  at: nullable(WireSpan),
  lookAt: nullable(IsoInstant),
  /** watched until then at the soonest */
  until: nullable(IsoInstant),
  needSeconds: nullable(Type.Number()),
  ranSeconds: nullable(WireBounds),
  failedRunSeconds: nullable(WireBounds),
  missing: nullable(
    Type.Object({
      seconds: Type.Number(),
      calls: Count,
      weather: choice('seen', 'not-seen', 'not-measured'),
    }),
  ),
  by: nullable(WireEventKind),
  cause: nullable(WireCause),
  event: nullable(Id),
  /** of `failed`: is it the same cause for sure */
  isSure: Type.Boolean(),
  isOver: Type.Boolean({ description: 'it isn’t watched any more' }),
});
export type WatchAnswer = Static<typeof WatchAnswer>;

const TimelineLine = Type.Object({
  event: Id,
  start: WireSpan,
  /** with how sure it is, and of which cause */
  says: Type.String(),
  course: nullable(Type.String()),
  certainty: WireCertainty,
  causeCertainty: nullable(WireCertainty),
});

const CheckLine = Type.Object({
  id: choice(...CHECK_IDS),
  says: Type.String(),
  /** what was seen that speaks for it or against it; null: nothing does */
  bears: nullable(choice('for', 'against')),
  because: nullable(Type.String()),
});

export const VisitAnswer = Type.Object({
  alarm: AlarmWithJournal,
  serverTime: IsoInstant,
  urgency: Type.Object({
    answer: choice('go-now', 'can-wait', 'not-known'),
    says: Type.String(),
    heldUntil: nullable(IsoInstant),
  }),
  /** what it means for cooling and how long there is */
  cooling: Type.Array(Type.String()),
  /** who is told; null: nobody was to be */
  telling: nullable(
    Type.Object({
      state: choice('held', 'paging', 'owned', 'exhausted', 'over'),
      dueAt: nullable(IsoInstant),
      /** null: nobody has it */
      owner: nullable(Type.String()),
      ownerName: nullable(Type.String()),
      place: nullable(choice('accepted', 'on-site')),
      hasPolicy: Type.Boolean({ description: 'without one nobody is told' }),
      /** whoever is asked next, where somebody is */
      next: nullable(Type.String()),
    }),
  ),
  timeline: Type.Array(TimelineLine),
  clears: Type.Array(Type.String()),
  /** before anything else on site; null: there is nothing of a unit to check */
  first: nullable(Type.String()),
  checks: Type.Array(CheckLine),
  wouldTell: Type.Array(Type.String()),
  bring: Type.Array(Type.String()),
  unit: nullable(
    Type.Object({ id: Id, name: Type.String(), settings: Type.Array(UnitSetting), facts: UnitFacts }),
  ),
  /** units that may be put into work in progress from here */
  units: Type.Array(Type.Object({ id: Id, name: Type.String() })),
  works: Type.Array(WorkAnswer),
  steps: Type.Array(StepAnswer),
  findings: Type.Array(FindingsAnswer),
  /** null: the alarm is of no unit, or nothing that a run would show mended */
  watch: nullable(WatchAnswer),
});
export type VisitAnswer = Static<typeof VisitAnswer>;

/** What was done about earlier alarms of the unit, the newest first. */
export const EarlierVisit = Type.Object({
  alarm: Id,
  title: Type.String(),
  since: WireSpan,
  closedAt: nullable(IsoInstant),
  steps: Type.Array(StepAnswer),
  findings: Type.Array(FindingsAnswer),
  watch: nullable(WatchAnswer),
});
export type EarlierVisit = Static<typeof EarlierVisit>;
export const EarlierVisits = Type.Object({ items: Type.Array(EarlierVisit), cursor: Type.Null() });
export type EarlierVisits = Static<typeof EarlierVisits>;
