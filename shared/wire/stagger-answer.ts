import Type, { type Static } from 'typebox';
import { choice, Count, Id, IsoInstant, nullable, WireBounds, WireSpan } from './schema.ts';
import { StaggerAsk } from './stagger-ask.ts';

/** A panel's plan, its proposals with their life, and the list of what all panels could be spared. Lengths are seconds. */
const Hold = choice('worst-case', 'timers', 'nominal');
const Seconds = Type.Number();
const Likelihood = Type.Object({
  value: Type.Number({ minimum: 0, maximum: 1 }),
  isAtLeast: Type.Boolean(),
});

const PlannedUnit = Type.Object({
  id: Id,
  group: Count,
  now: Type.Object({ offDelay: Seconds, nominal: Seconds, wait: nullable(WireBounds) }),
  proposed: Type.Object({ offDelay: Seconds, nominal: Seconds, wait: WireBounds }),
  isChange: Type.Boolean(),
  by: choice('set', 'measured', 'recorded'),
});

export const WireStaggerPlan = Type.Object({
  outcome: choice('apart', 'groups', 'other-means', 'nothing-to-plan'),
  hold: nullable(Hold),
  units: Type.Array(PlannedUnit, { description: 'in the order in which they would start' }),
  spacings: Type.Array(
    Type.Object({
      first: Id,
      second: Id,
      isTogether: Type.Boolean(),
      nominal: Seconds,
      worstCase: Type.Number({ description: 'timers and dials off in the worst way' }),
      timersOnly: Seconds,
    }),
  ),
  groups: Type.Array(
    Type.Object({
      units: Type.Array(Id),
      amps: nullable(Type.Number({ description: 'of locked rotors, together' })),
      voltages: Type.Array(
        Type.Object({
          supply: choice('utility', 'generator'),
          share: nullable(Type.Number({ description: 'of the nominal voltage, while they start' })),
          isBorne: nullable(Type.Boolean()),
        }),
      ),
    }),
  ),
  changes: Count,
  likelihood: Type.Object({ proposed: Likelihood, now: nullable(Likelihood) }),
  price: Type.Object({ laterSeconds: Seconds, offDelayLaterSeconds: Seconds }),
  steps: Count,
});
export type WireStaggerPlan = Static<typeof WireStaggerPlan>;

const SiteNamed = Type.Object({ id: Id, name: Type.String(), timeZone: Type.String() });

export const SeenRestart = Type.Object({
  event: Id,
  at: WireSpan,
  until: nullable(IsoInstant),
  starts: Type.Array(
    Type.Object(
      { unit: Id, started: WireBounds },
      { description: 's after the power’s return; those that a wait set' },
    ),
  ),
  pairs: Type.Array(
    Type.Object({
      first: Id,
      second: Id,
      spacing: WireBounds,
      verdict: choice('separate', 'simultaneous', 'cannot-be-told'),
    }),
  ),
});
export type SeenRestart = Static<typeof SeenRestart>;

export const StaggerPlanAnswer = Type.Object({
  site: SiteNamed,
  panel: Type.Object({ id: Id, name: Type.String(), minimumStartSeparation: Seconds }),
  names: Type.Record(Type.String(), Type.String(), { description: 'of units, by id' }),
  asked: StaggerAsk,
  plan: WireStaggerPlan,
  restarts: Type.Array(SeenRestart, { description: 'the last ones, oldest first' }),
  together: Type.Integer({
    description: 'neighbours that started together in those since the delays are recorded as they are',
  }),
  spared: Type.Integer({ description: 'of them, by the proposed waits: what was seen, shifted' }),
});
export type StaggerPlanAnswer = Static<typeof StaggerPlanAnswer>;

const Verdict = choice('waiting', 'kept', 'not-kept', 'cannot-be-told');
export const KeptAnswer = Type.Object({
  verdict: Verdict,
  event: nullable(Id),
  at: nullable(WireSpan),
  units: Type.Array(
    Type.Object({ unit: Id, seen: nullable(WireBounds), allowed: WireBounds, verdict: Verdict }),
  ),
  together: Type.Array(Type.Array(Id)),
});
export type KeptAnswer = Static<typeof KeptAnswer>;

const Done = Type.Object({ by: Type.String(), at: IsoInstant, note: Type.String() });

export const ProposalAnswer = Type.Object({
  id: Id,
  site: Id,
  panel: Id,
  state: choice('drafted', 'agreed', 'set', 'withdrawn'),
  drafted: Done,
  agreed: nullable(Done),
  withdrawn: nullable(Done),
  set: nullable(
    Type.Object({
      by: Type.String(),
      at: IsoInstant,
      note: Type.String(),
      from: IsoInstant,
      readBacks: Type.Array(Type.Object({ unit: Id, offDelay: nullable(Seconds), shows: Type.String() })),
    }),
  ),
  /** null until it is set */
  kept: nullable(KeptAnswer),
  plan: WireStaggerPlan,
});
export type ProposalAnswer = Static<typeof ProposalAnswer>;

export const ProposalList = Type.Object({ items: Type.Array(ProposalAnswer), cursor: Type.Null() });

export const StaggerItem = Type.Object({
  site: SiteNamed,
  panel: Type.Object({ id: Id, name: Type.String() }),
  units: Count,
  names: Type.Record(Type.String(), Type.String()),
  restarts: Count,
  together: Count,
  spared: Count,
  outcome: WireStaggerPlan.properties.outcome,
  hold: nullable(Hold),
  changes: Count,
  price: WireStaggerPlan.properties.price,
  /** units to set, with what to */
  sets: Type.Array(Type.Object({ unit: Id, from: Seconds, to: Seconds })),
  proposal: nullable(
    Type.Object({ id: Id, state: ProposalAnswer.properties.state, kept: nullable(Verdict) }),
  ),
});
export type StaggerItem = Static<typeof StaggerItem>;

export const StaggerList = Type.Object({
  items: Type.Array(StaggerItem, { description: 'those that spare most first' }),
  panels: Type.Integer({ description: 'looked at' }),
  outages: Type.Integer({ description: 'of each panel, at most' }),
  cut: Type.Boolean({ description: 'there are more than can be listed' }),
});
export type StaggerList = Static<typeof StaggerList>;
