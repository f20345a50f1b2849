import type { Certainty, EventCause } from '../inference/event.ts';

/** Causes as they stand after a comma: `Soft lockout, probably low pressure`. Total: a new cause needs its words. */
export const CAUSE_WORDS: Record<EventCause, string> = {
  'call-ended': 'the call ended',
  'high-pressure': 'high pressure',
  'low-pressure': 'low pressure',
  pressure: 'high or low pressure',
  undervoltage: 'undervoltage',
  'power-lost': 'power lost',
  unknown: 'reason not known',
  'delay-not-kept': 'delay not kept',
  'too-many-starts': 'too many starts in an hour',
  'call-broken': 'the call was broken',
  'power-broken': 'the power was broken',
  supply: 'the supply failed',
  'unit-only': 'this unit only',
  'after-power-return': 'after a power return',
  'in-service': 'in ordinary running',
  'at-start': 'at the start',
  'in-run': 'during a run',
  silent: 'the alarm contact didn’t move when it should',
  unexplained: 'an alarm that no stop explains',
  low: 'too low',
  high: 'too high',
  'wrong-tap': 'probably the wrong transformer tap',
  'air-difference': 'too little difference between return and supply air',
  'temperature-rising': 'the room warms while it runs',
  reduced: 'fewer units can run than are installed',
  lost: 'fewer units can run than are needed',
  measured: 'measured',
  forecast: 'forecast',
  'point-silent': 'a point is silent',
  'gateway-silent': 'the gateway is silent',
  'not-watched': 'nobody was listening here',
};

/** How sure the cause is, around its words. */
const CAUSE_HEDGES: Record<Certainty, (words: string) => string> = {
  certain: (words) => words,
  probable: (words) => `probably ${words}`,
  possible: (words) => `possibly ${words}`,
};

/** `pressure` is by itself "can't tell which": a hedge on top would say it twice. */
export function causeText(cause: EventCause, certainty: Certainty): string {
  if (cause === 'pressure') return `${CAUSE_WORDS.pressure}, can’t tell which`;
  if (cause === 'unknown' || CAUSE_WORDS[cause].startsWith('probably ')) return CAUSE_WORDS[cause];
  return CAUSE_HEDGES[certainty](CAUSE_WORDS[cause]);
}

/** A cause as it is listed by itself, among the candidates. */
export const candidateText = (cause: EventCause): string => causeText(cause, 'certain');
