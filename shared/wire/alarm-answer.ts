import Type, { type Static } from 'typebox';
import { HAPPENINGS } from '../alarms/machine.ts';
import { ALARM_RULE_IDS, TASK_RULE_IDS } from '../alarms/rules.ts';
import { SEVERITIES } from '../alarms/severity.ts';
import { WireCause, WireCertainty } from './event-answer.ts';
import { choice, Count, Id, IsoInstant, nullable, WireSpan } from './schema.ts';

/** Alarms and tasks as the outside sees them (contract section 5, handbook 7). */
const WireSeverity = choice(...SEVERITIES);
const WireState = choice('A', 'B', 'C', 'D', 'E', 'F', 'G', 'H', 'I');

const WireSubject = Type.Object({
  kind: choice('site', 'panel', 'space', 'unit', 'gateway', 'point'),
  device: Id,
  /** as people call it */
  name: Type.String(),
  unit: nullable(Id),
  space: nullable(Id),
  panel: nullable(Id),
});

const where = {
  site: Id,
  siteName: Type.String(),
  timeZone: Type.String(),
  subject: WireSubject,
};

export const AlarmAnswer = Type.Object({
  id: Id,
  ...where,
  rule: choice(...ALARM_RULE_IDS),
  severity: WireSeverity,
  state: Type.Unsafe<Static<typeof WireState>>({
    ...WireState,
    description:
      'ISA-18.2: A normal, B unacknowledged, C acknowledged, D over and unacknowledged, E and F latched, G shelved, H suppressed by design, I out of service',
  }),
  /** true while the condition itself stands */
  active: Type.Boolean(),
  latched: Type.Boolean(),
  since: WireSpan,
  end: nullable(WireSpan),
  raisedAt: IsoInstant,
  changedAt: IsoInstant,
  cause: nullable(WireCause),
  certainty: WireCertainty,
  causeCertainty: nullable(WireCertainty),
  events: Type.Array(Id),
  members: Type.Array(Id, { description: 'units that a loss names' }),
  occurrences: Count,
  owner: nullable(Type.String()),
  /** null: nobody has it, or whoever does is no person of ours */
  ownerId: nullable(Type.String()),
  acknowledged: nullable(Type.Object({ by: Type.String(), at: IsoInstant })),
  shelved: nullable(
    Type.Object({ by: Type.String(), at: IsoInstant, until: IsoInstant, reason: Type.String() }),
  ),
  outOfService: nullable(
    Type.Object({ by: Type.String(), at: IsoInstant, role: Type.String(), reason: Type.String() }),
  ),
  suppressed: nullable(
    Type.Object({
      kind: choice('alarm', 'work'),
      /** of the open alarm that explains it, or of the work; null: what explained it is over, and a wait after it isn't */
      id: nullable(Id),
    }),
  ),
  version: Count,
});
export type AlarmAnswer = Static<typeof AlarmAnswer>;

export const AlarmLine = Type.Object({
  id: Type.String(),
  what: choice(...HAPPENINGS, 'taken-over', 'replaced', 'amended', 'learned-late'),
  at: IsoInstant,
  eventAt: nullable(IsoInstant),
  by: nullable(Type.String()),
  why: nullable(Type.String()),
  events: Type.Array(Id),
  state: nullable(WireState),
  severity: nullable(WireSeverity),
});
export type AlarmLine = Static<typeof AlarmLine>;

export const AlarmWithJournal = Type.Object({
  ...AlarmAnswer.properties,
  journal: Type.Array(AlarmLine, { description: 'the newest 500 lines, oldest first' }),
  /** alarms that it explains now */
  explains: Type.Array(AlarmAnswer),
});
export type AlarmWithJournal = Static<typeof AlarmWithJournal>;

export const WorkAnswer = Type.Object({
  id: Id,
  site: Id,
  units: Type.Array(Id),
  by: Type.String(),
  from: IsoInstant,
  until: IsoInstant,
});
export type WorkAnswer = Static<typeof WorkAnswer>;

export const AlarmList = Type.Object({
  items: Type.Array(AlarmAnswer),
  cursor: nullable(Type.String()),
  /** who works where now; on the first page only */
  works: Type.Array(WorkAnswer),
  serverTime: IsoInstant,
  /** place in the live room: of the site that was asked for, else of `board` */
  epoch: Id,
  revision: Count,
});
export type AlarmList = Static<typeof AlarmList>;

export const TaskAnswer = Type.Object({
  id: Id,
  ...where,
  rule: choice(...TASK_RULE_IDS),
  since: WireSpan,
  cause: nullable(WireCause),
  certainty: WireCertainty,
  events: Type.Array(Id),
  openedAt: IsoInstant,
  closedAt: nullable(IsoInstant),
});
export type TaskAnswer = Static<typeof TaskAnswer>;

export const TaskList = Type.Object({ items: Type.Array(TaskAnswer), cursor: nullable(Type.String()) });
export type TaskList = Static<typeof TaskList>;

/** What may be sent with a wish; `command` makes sending it twice the same as once. */
const asked = { command: Type.Optional(Type.String({ format: 'uuid' })) };
const reason = Type.String({ minLength: 3, maxLength: 1000 });

export const AlarmAsks = {
  accept: Type.Object(asked, { additionalProperties: false }),
  acknowledge: Type.Object(asked, { additionalProperties: false }),
  note: Type.Object(
    { ...asked, text: Type.String({ minLength: 1, maxLength: 4000 }) },
    { additionalProperties: false },
  ),
  shelve: Type.Object(
    { ...asked, reason, minutes: Type.Integer({ minimum: 5, maximum: 7 * 24 * 60 }) },
    { additionalProperties: false },
  ),
  unshelve: Type.Object(asked, { additionalProperties: false }),
  'out-of-service': Type.Object({ ...asked, reason }, { additionalProperties: false }),
  'return-to-service': Type.Object(asked, { additionalProperties: false }),
  close: Type.Object({ ...asked, reason }, { additionalProperties: false }),
} as const;
export type AlarmAsk = keyof typeof AlarmAsks;

export const WorkAsk = Type.Object(
  {
    ...asked,
    units: Type.Array(Id, { minItems: 1, maxItems: 200 }),
    minutes: Type.Integer({ minimum: 5, maximum: 120 }),
  },
  { additionalProperties: false },
);

const WireTuning = Type.Object(
  {
    rule: choice(...ALARM_RULE_IDS, ...TASK_RULE_IDS),
    unit: Type.Optional(nullable(Id)),
    on: Type.Optional(Type.Boolean()),
    severity: Type.Optional(WireSeverity),
    onDelaySeconds: Type.Optional(Type.Number()),
    offDelaySeconds: Type.Optional(Type.Number()),
  },
  { additionalProperties: false },
);

export const TuningBody = Type.Object(
  { rules: Type.Array(WireTuning, { maxItems: 500 }) },
  { additionalProperties: false },
);
export type TuningBody = Static<typeof TuningBody>;

export const TuningAnswer = Type.Object({
  ...TuningBody.properties,
  /** the newest 50, newest first: what held from then on */
  changes: Type.Array(Type.Object({ at: IsoInstant, by: Type.String(), rules: TuningBody.properties.rules })),
});
export type TuningAnswer = Static<typeof TuningAnswer>;
