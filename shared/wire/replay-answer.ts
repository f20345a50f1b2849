import Type, { type Static } from 'typebox';
import { EventAnswer } from './event-answer.ts';
import { ReplayAsk } from './replay-ask.ts';
import { choice, Count, Id, IsoInstant, nullable, WireSpan } from './schema.ts';
import { Strip, WirePhase } from './status.ts';

/** What a replay answers: how far it has come and, once done, what was seen beside what comes replayed. */
const Doubts = Type.Array(choice('call', 'pressure', 'voltage'), {
  description: 'it holds if these had done as they were seen to; empty: the record carries it',
});

const Reason = Type.Object(
  {
    code: Type.String(),
    wait: Type.Optional(WirePhase),
    waited: Type.Optional(Type.Number({ description: 's' })),
  },
  { description: 'why the reference control did it' },
);

export const ReplayDifference = Type.Object({
  kind: choice('start', 'stop', 'run', 'hard-lockout'),
  seen: nullable(WireSpan),
  replayed: nullable(WireSpan),
  shiftSeconds: nullable(
    Type.Unsafe<readonly [number, number]>({
      type: 'array',
      items: { type: 'number' },
      minItems: 2,
      maxItems: 2,
    }),
  ),
  reason: nullable(Reason),
  leansOn: Doubts,
});
export type ReplayDifference = Static<typeof ReplayDifference>;

const BEYOND = [
  'runs-unseen',
  'runs-on-unseen',
  'switch-opened-running',
  'call-ended-running',
  'order-not-known',
  'signal-lost',
  'not-begun',
] as const;

export const ReplayBeyond = Type.Object(
  { from: IsoInstant, to: IsoInstant, why: choice(...BEYOND) },
  { description: 'where the record can’t say what would have been' },
);
export type ReplayBeyond = Static<typeof ReplayBeyond>;

export const ReplayUnit = Type.Object({
  id: Id,
  name: Type.String(),
  panel: Id,
  changed: Type.Boolean({ description: 'its control has other settings than recorded' }),
  refused: nullable(choice('no-call', 'no-output', 'not-there')),
  unseen: Type.Array(choice('high-pressure', 'low-pressure', 'control-voltage', 'call-upstream')),
  delays: Type.Object({
    recorded: Type.Object({ offDelay: Type.Number(), powerUpDelay: Type.Number() }),
    replayed: Type.Object({ offDelay: Type.Number(), powerUpDelay: Type.Number() }),
  }),
  seen: Strip,
  replayed: Type.Array(
    Type.Object({
      phase: WirePhase,
      start: Type.Number({ description: 's after `from`' }),
      end: Type.Number(),
      grade: choice('carried', 'leans', 'beyond'),
    }),
  ),
  differences: Type.Array(ReplayDifference),
  beyond: Type.Array(ReplayBeyond),
  baseline: Type.Object(
    { compared: Count, differing: Count },
    { description: 'changes of the reference control under the recorded settings, and those not seen so' },
  ),
  cut: Type.Boolean({ description: 'lists were cut at their bound' }),
});
export type ReplayUnit = Static<typeof ReplayUnit>;

export const ReplayResultAnswer = Type.Object({
  site: Type.Object({ id: Id, name: Type.String(), timeZone: Type.String() }),
  from: IsoInstant,
  to: IsoInstant,
  units: Type.Array(ReplayUnit),
  names: Type.Record(Type.String(), Type.String(), { description: 'of units, panels and spaces, by id' }),
  events: Type.Array(
    Type.Object({
      kind: choice('only-seen', 'only-replayed', 'changed'),
      seen: nullable(EventAnswer),
      replayed: nullable(EventAnswer),
    }),
  ),
});
export type ReplayResultAnswer = Static<typeof ReplayResultAnswer>;

export const ReplayAnswer = Type.Object({
  id: Id,
  state: choice('waiting', 'running', 'done', 'failed', 'cancelled'),
  progress: Type.Number({ minimum: 0, maximum: 1 }),
  asked: ReplayAsk,
  /** why it failed, and what to do */
  says: nullable(Type.String()),
  result: nullable(ReplayResultAnswer),
});
export type ReplayAnswer = Static<typeof ReplayAnswer>;
