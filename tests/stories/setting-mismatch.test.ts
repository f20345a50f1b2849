import { describe } from 'vitest';
import { tellUnitStory } from './unit-run.ts';

/**
 * Each restart that a delay let go with the call waiting shows how the delay is really set (handbook 4 rule 8). Where that
 * leaves no room for what is recorded, the record or the dial is wrong, until a restart fits again.
 */
const about = ['setting-mismatch'];
const RECORDED = { offDelay: 210, powerUpBase: 120, powerUpShare: 0.1 };
/** high pressure trips at `at` and is well 10 s later; the restart comes after `wait` */
const tripAndRetry = (at: number, wait: number): string[] => [
  `${at}: high-pressure 0, compressor-output 0`,
  `${at + 10}: high-pressure 1`,
  `${at + wait}: compressor-output 1`,
];
const CALLED = '100: cooling-call 1, compressor-output 1';

describe('settings that are not as recorded', () => {
  tellUnitStory({
    name: 'a retry after 180 s where 210 s are recorded',
    protection: RECORDED,
    sent: [CALLED, ...tripAndRetry(500, 180), '900: cooling-call 0, compressor-output 0'],
    about,
    facts: ['setting-mismatch 680–… certain'],
  });

  tellUnitStory({
    name: 'a retry after 205 s: within what a hand sets and a timer keeps',
    protection: RECORDED,
    sent: [CALLED, ...tripAndRetry(500, 205), '900: cooling-call 0, compressor-output 0'],
    about,
    facts: [],
  });

  tellUnitStory({
    name: 'the dial is put right a call later: it ends with the restart that fits',
    protection: RECORDED,
    sent: [
      CALLED,
      ...tripAndRetry(500, 180),
      '900: cooling-call 0, compressor-output 0',
      '2000: cooling-call 1, compressor-output 1',
      ...tripAndRetry(2400, 210),
      '2900: cooling-call 0, compressor-output 0',
    ],
    about,
    facts: ['setting-mismatch 680–2610 certain'],
  });

  tellUnitStory({
    name: 'a power-up delay of 100 s where 141 s are recorded',
    protection: RECORDED,
    sent: [
      CALLED,
      '500: control-voltage 0, cooling-call 0, compressor-output 0',
      '540: control-voltage 26, cooling-call 1',
      '640: compressor-output 1',
      '900: cooling-call 0, compressor-output 0',
    ],
    about,
    facts: ['setting-mismatch 640–… certain'],
  });

  tellUnitStory({
    name: 'a delay that nobody wrote down can’t be other than recorded',
    protection: { offDelay: undefined },
    sent: [CALLED, ...tripAndRetry(500, 60), '900: cooling-call 0, compressor-output 0'],
    about,
    facts: [],
  });
});
