import { describe } from 'vitest';
import * as wired from '../fixtures/unit-record.ts';
import { tellUnitStory } from './unit-run.ts';

/**
 * A compressor that starts again before its off-cycle delay is over starts against unequal pressures (handbook 4 rule 7).
 * Judged by the gap since the later of stop and call break, and only against a delay that somebody wrote down.
 */
const about = ['short-cycle'];
/** a run of 300 s, then 60 s off, and on again with the call */
const BACK_AFTER_60 = [
  '100: cooling-call 1, compressor-output 1',
  '400: cooling-call 0, compressor-output 0',
  '460: cooling-call 1, compressor-output 1',
  '800: cooling-call 0, compressor-output 0',
];

describe('short cycles', () => {
  tellUnitStory({
    name: 'back after 60 s where 210 s are recorded, with power seen all along: the delay was not kept',
    protection: { offDelay: 210 },
    sent: BACK_AFTER_60,
    about,
    facts: ['short-cycle delay-not-kept 460 certain/certain'],
  });

  tellUnitStory({
    name: 'the same where nobody wrote the delay down: it may be set to 60 s',
    protection: { offDelay: undefined },
    sent: BACK_AFTER_60,
    about,
    facts: [],
  });

  tellUnitStory({
    name: 'the same with no control voltage wired: probably; an outage would have made it wait longer still',
    points: [wired.CALL, wired.OUTPUT],
    protection: { offDelay: 210 },
    sent: BACK_AFTER_60,
    about,
    facts: ['short-cycle delay-not-kept 460 probable/probable'],
  });

  tellUnitStory({
    name: 'back after 141 s with no control voltage wired: the power-up delay after an outage fits as well',
    points: [wired.CALL, wired.OUTPUT],
    protection: { offDelay: 210 },
    sent: [
      '100: cooling-call 1, compressor-output 1',
      '400: compressor-output 0',
      '541: compressor-output 1',
      '800: cooling-call 0, compressor-output 0',
    ],
    about,
    facts: ['short-cycle delay-not-kept 541 possible/possible'],
  });

  tellUnitStory({
    name: 'after an outage it is the power-up delay that counts: 141 s are recorded, 60 s were waited',
    protection: { offDelay: 210, powerUpBase: 120, powerUpShare: 0.1 },
    sent: [
      '100: cooling-call 1, compressor-output 1',
      '400: control-voltage 0, cooling-call 0, compressor-output 0',
      '430: control-voltage 26, cooling-call 1',
      '490: compressor-output 1',
      '800: cooling-call 0, compressor-output 0',
    ],
    about,
    facts: ['short-cycle delay-not-kept 490 certain/certain'],
  });
});
