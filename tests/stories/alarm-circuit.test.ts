import { describe } from 'vitest';
import * as wired from '../fixtures/unit-record.ts';
import { tellUnitStory, type UnitStory } from './unit-run.ts';

/** The alarm contact that should have moved, and didn't (handbook 4 rule 5): what must be known before it is said. */
const STAYS_OPEN = [
  '0: cooling-call 1, compressor-output 1',
  '500: high-pressure 0, compressor-output 0',
  '1500: cooling-call 0',
  '1510: high-pressure 1',
];

/** Between the stop and when the retry was overdue: told by the middle. */
const STORIES: readonly UnitStory[] = [
  {
    name: 'a retry that is overdue with the call at the control’s own terminal: the alarm circuit is silent, probably',
    sent: STAYS_OPEN,
    about: ['alarm-circuit-fault'],
    facts: ['alarm-circuit-fault silent 610.4–… probable/probable'],
  },
  {
    name: 'the same with a call sensed upstream: something on the way may hold the unit off, and nothing is said',
    points: [
      { ...wired.CALL, sense: 'upstream' },
      wired.OUTPUT,
      wired.ALARM,
      wired.HIGH,
      wired.LOW,
      wired.VOLTAGE,
    ],
    sent: STAYS_OPEN,
    about: ['alarm-circuit-fault'],
    facts: [],
  },
];

describe('an alarm contact that stays open', () => {
  for (const story of STORIES) tellUnitStory(story);
});
