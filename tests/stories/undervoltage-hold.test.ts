import { describe } from 'vitest';
import * as wired from '../fixtures/unit-record.ts';
import { tellUnitStory } from './unit-run.ts';

/**
 * Control voltage below its trip drops the compressor; it may start again by itself once the off-cycle delay is over and
 * the voltage back, and none of it counts toward a lockout (handbook 2.2 rule 6, 4 rule 2).
 */
const about = ['undervoltage-hold', 'soft-lockout', 'hard-lockout'];

describe('undervoltage holds', () => {
  tellUnitStory({
    name: 'a sag to 16 V for 5 s: held off, and back by itself after the off-cycle delay',
    sent: [
      '100: cooling-call 1, compressor-output 1',
      '500: control-voltage 16, compressor-output 0',
      '505: control-voltage 26',
      '710: compressor-output 1',
      '900: cooling-call 0, compressor-output 0',
    ],
    about,
    facts: ['undervoltage-hold 500–710 certain'],
  });

  tellUnitStory({
    name: 'three in one call latch nothing',
    sent: [
      '100: cooling-call 1, compressor-output 1',
      ...[500, 800, 1100].flatMap((at) => [
        `${at}: control-voltage 16, compressor-output 0`,
        `${at + 5}: control-voltage 26`,
        `${at + 210}: compressor-output 1`,
      ]),
      '1600: cooling-call 0, compressor-output 0',
    ],
    about,
    facts: [
      'undervoltage-hold 500–710 certain',
      'undervoltage-hold 800–1010 certain',
      'undervoltage-hold 1100–1310 certain',
    ],
  });

  tellUnitStory({
    name: 'the room is satisfied while it is held off: the hold ends with the call',
    sent: [
      '100: cooling-call 1, compressor-output 1',
      '500: control-voltage 16, compressor-output 0',
      '505: control-voltage 26',
      '600: cooling-call 0',
    ],
    about,
    facts: ['undervoltage-hold 500–600 certain'],
  });

  tellUnitStory({
    name: 'a sag while the compressor is off is none',
    sent: ['100: control-voltage 16', '105: control-voltage 26', '400: cooling-call 1, compressor-output 1'],
    about,
    facts: [],
  });

  tellUnitStory({
    name: 'a control without an undervoltage trip: the same sag says nothing of why it stopped',
    protection: { undervoltageTrip: null },
    points: wired.FULL,
    sent: [
      '100: cooling-call 1, compressor-output 1',
      '500: control-voltage 16, compressor-output 0',
      '505: control-voltage 26',
      '710: compressor-output 1',
      '900: cooling-call 0, compressor-output 0',
    ],
    about: ['undervoltage-hold'],
    facts: [],
  });
});
