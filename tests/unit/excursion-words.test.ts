import { expect, it } from 'vitest';
import type { EventFacts } from '../../shared/wire/event-sentences.ts';
import { eventSentence, measureName, measureText } from '../../shared/wire/event-sentences.ts';

const SECOND = 1_000_000;
const event = (kind: EventFacts['kind'], seconds: number, measures: EventFacts['measures']): EventFacts => ({
  kind,
  cause: null,
  certainty: 'certain',
  causeCertainty: null,
  pending: [],
  start: { earliest: 0, latest: 0 },
  end: { earliest: seconds * SECOND, latest: seconds * SECOND },
  members: [],
  measures,
});
const course = (facts: EventFacts) => eventSentence(facts, () => '03:05').course;

it.each<[string, EventFacts, string]>([
  [
    'measured: how low, and its class',
    event('voltage-sag', 0.1, { residualVolts: 168, residualPerUnit: 0.7, class: 'instantaneous sag' }),
    'for 0.1 s · down to 70 % (168 V), an instantaneous sag',
  ],
  [
    'a slow meter: that low or lower, no class',
    event('voltage-sag', 2, { residualVolts: [0, 180], residualPerUnit: [0, 0.75], class: 'not measured' }),
    'for 2 s · to 75 % (180 V) or lower',
  ],
  [
    'a swell: that high or higher',
    event('voltage-swell', 9, {
      residualVolts: [276, 1000],
      residualPerUnit: [1.15, 4.17],
      class: 'temporary swell',
    }),
    'for 9 s · to 115 % (276 V) or higher, a temporary swell',
  ],
  [
    'no meter',
    event('interruption', 60, {
      residualVolts: 'not measured',
      residualPerUnit: 'not measured',
      class: 'not measured',
    }),
    'for 1:00 · how low wasn’t measured',
  ],
  ['other kinds say nothing of it', event('power-loss', 60, {}), 'back after 1:00'],
])('%s', (_, facts, expected) => {
  expect(course(facts)).toBe(expected);
});

it('names and writes its measures', () => {
  expect([measureName('seconds'), measureText('seconds', [0, 2])]).toEqual(['lasted', '0–2 s']);
  // the page lists measures by name: no two may share one
  expect(['residualVolts', 'residualPerUnit'].map(measureName)).toEqual(['residual', 'residual per unit']);
  expect(measureText('residualPerUnit', 0.7)).toBe('0.7');
});
