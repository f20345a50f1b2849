import type { Leant, Measure } from '../alarms/performance/measures.ts';
import type { Suggestion } from '../alarms/performance/suggest.ts';
import { formatInstant } from '../base/instant.ts';
import { MEASURE_WORDS } from './performance-sentences.ts';
import type { WireMeasure, WireSuggestion } from './performance-answer.ts';

/** Between the measures and the wire, by hand; what a figure leans on is bounded there. */
const LEANS_SHOWN = 50;

export function wireMeasure({ id, value, beside, verdict, leans }: Measure): WireMeasure {
  const { target, source } = MEASURE_WORDS[id];
  return {
    id,
    value,
    beside: { ...beside },
    verdict,
    target,
    source,
    leans: leans.slice(0, LEANS_SHOWN).map(wireLeant),
    leansOn: leans.length,
  };
}

const wireLeant = ({ alarm, at, to }: Leant) => ({
  alarm,
  at: formatInstant(at),
  to: to === null ? null : formatInstant(to),
});

export const wireSuggestion = (one: Suggestion, name: string): WireSuggestion => ({
  key: one.key,
  rule: one.rule,
  name,
  unit: one.unit,
  field: one.field,
  now: one.now,
  then: one.then,
  of: one.of,
  avoided: one.avoided,
  avoidedElsewhere: one.avoidedElsewhere,
  longestAvoided: one.longestAvoided,
  spared: one.spared
    .slice(0, LEANS_SHOWN)
    .map(({ at, goneAt }) => wireLeant({ alarm: null, at, to: goneAt })),
});
