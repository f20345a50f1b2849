import Type, { type Static } from 'typebox';
import { MEASURE_IDS } from '../alarms/performance/measures.ts';
import { ALARM_RULE_IDS } from '../alarms/rules.ts';
import { choice, Count, Id, IsoInstant, nullable } from './schema.ts';

/** What alarms ask of people, measured (handbook 7), and what other settings would have spared. */
const WireLeant = Type.Object({
  /** null: a stretch of time */
  alarm: nullable(Id),
  at: IsoInstant,
  to: nullable(IsoInstant),
});

const WireMeasure = Type.Object({
  id: choice(...MEASURE_IDS),
  value: nullable(
    Type.Number({ description: 'a count, a count a time, a share of 1, or seconds; null: can’t be told' }),
  ),
  beside: Type.Record(Type.String(), Type.Number()),
  verdict: choice('within', 'manageable', 'beyond', 'no-target'),
  target: nullable(Type.String()),
  source: Type.String(),
  leans: Type.Array(WireLeant, { description: 'what it is counted from, the newest 50' }),
  leansOn: Count,
});
export type WireMeasure = Static<typeof WireMeasure>;

const AlarmName = Type.Object({
  rule: choice(...ALARM_RULE_IDS),
  name: Type.String(),
  site: Id,
  siteName: Type.String(),
  timeZone: Type.String(),
});
export type AlarmName = Static<typeof AlarmName>;

const WireContributor = Type.Object({ alarm: Id, count: Count, newest: IsoInstant });

export const PerformanceAnswer = Type.Object({
  from: IsoInstant,
  to: IsoInstant,
  site: nullable(Id),
  siteName: nullable(Type.String()),
  /** alarms that there could be: rules by what they may speak of */
  sources: Count,
  /** false: the bound of what is read was reached, and the oldest aren’t counted */
  whole: Type.Boolean(),
  asked: Count,
  measures: Type.Array(WireMeasure),
  /** sources that asked most, at most 10; each by its newest alarm */
  contributors: Type.Array(WireContributor),
  people: Type.Array(
    Type.Object({
      id: Id,
      name: Type.String(),
      asked: Count,
      messages: Count,
      measures: Type.Array(WireMeasure),
    }),
  ),
  /** where no site was asked for: those that asked most, at most 100 */
  sites: Type.Array(Type.Object({ id: Id, name: Type.String(), asked: Count })),
  /** those that anything above names */
  alarms: Type.Record(Type.String(), AlarmName),
  serverTime: IsoInstant,
});
export type PerformanceAnswer = Static<typeof PerformanceAnswer>;

const WireSuggestion = Type.Object({
  key: Type.String(),
  rule: choice(...ALARM_RULE_IDS),
  name: Type.String(),
  /** null: it is set for the whole site */
  unit: nullable(Id),
  field: choice('onDelaySeconds', 'offDelaySeconds'),
  now: Type.Number(),
  then: Type.Number(),
  of: Count,
  avoided: Count,
  avoidedElsewhere: Type.Integer(),
  longestAvoided: nullable(Type.Number({ description: 'seconds that the longest of the avoided stood' })),
  spared: Type.Array(WireLeant),
});
export type WireSuggestion = Static<typeof WireSuggestion>;

export const SuggestionsAnswer = Type.Object({
  site: Id,
  from: IsoInstant,
  to: IsoInstant,
  events: Count,
  suggestions: Type.Array(WireSuggestion),
  /** sources of the site, how often they asked and how often the replay under today’s settings raised them */
  replayed: Type.Array(
    Type.Object({ rule: choice(...ALARM_RULE_IDS), name: Type.String(), raised: Count, replayed: Count }),
  ),
  /** asked often, and no delay within bounds spares enough */
  without: Type.Array(Type.String()),
});
export type SuggestionsAnswer = Static<typeof SuggestionsAnswer>;
