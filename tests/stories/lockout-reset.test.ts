import { describe } from 'vitest';
import { tellUnitStory } from './unit-run.ts';

/**
 * A hard lockout ends when the call or control power is broken, by whomever (handbook 4 rule 6). A lockout is evidence and
 * isn't to be reset again and again.
 */
const about = ['hard-lockout', 'lockout-reset', 'repeated-reset'];
/** the high-pressure switch opens 100 s after a start at `at` and stays open: the retry after 210 s is refused */
const lockedOut = (at: number): string[] => [
  `${at}: cooling-call 1, compressor-output 1`,
  `${at + 100}: high-pressure 0, compressor-output 0`,
  `${at + 310}: lockout-alarm 1`,
];

describe('resets of a hard lockout', () => {
  tellUnitStory({
    name: 'the call is broken: whether by a person or by a satisfied thermostat isn’t said',
    sent: [...lockedOut(100), '1000: cooling-call 0, lockout-alarm 0', '1010: high-pressure 1'],
    about,
    facts: [
      'hard-lockout high-pressure 410–1000 certain/certain',
      'lockout-reset call-broken 1000 certain/certain',
    ],
  });

  tellUnitStory({
    name: 'control power is broken, and the call with it: power explains both',
    sent: [
      ...lockedOut(100),
      '1000: control-voltage 0, cooling-call 0, lockout-alarm 0',
      '1010: high-pressure 1',
      '1030: control-voltage 26',
    ],
    about,
    facts: [
      'hard-lockout high-pressure 410–1000 certain/certain',
      'lockout-reset power-broken 1000 certain/certain',
    ],
  });

  tellUnitStory({
    name: 'reset, locked out on high pressure again, reset again within the hour',
    sent: [
      ...lockedOut(100),
      '1000: cooling-call 0, lockout-alarm 0',
      '1010: high-pressure 1',
      ...lockedOut(1300),
      '2000: cooling-call 0, lockout-alarm 0',
      '2010: high-pressure 1',
    ],
    about,
    facts: [
      'hard-lockout high-pressure 410–1000 certain/certain',
      'lockout-reset call-broken 1000 certain/certain',
      'hard-lockout high-pressure 1610–2000 certain/certain',
      'lockout-reset call-broken 2000 certain/certain',
      'repeated-reset 2000 certain',
    ],
  });
});
