import { describe } from 'vitest';
import * as wired from '../fixtures/unit-record.ts';
import { tellUnitStory } from './unit-run.ts';

/** Control voltage that is steadily too low or too high while running, and the transformer's tap (handbook 4 rule 10). */
const about = ['control-voltage-out-of-range'];
const points = [...wired.FULL.filter((point) => point !== wired.VOLTAGE), wired.VOLTAGE_POLLED];
const runAt = (volts: number): string[] => [
  `0: control-voltage ${volts}`,
  '100: cooling-call 1, compressor-output 1',
  '700: cooling-call 0, compressor-output 0',
];

describe('control voltage out of range', () => {
  tellUnitStory({
    name: '20.8 V running on a 208 V panel: a transformer tapped for 240 V, probably',
    points,
    nominal: 208,
    sent: runAt(20.8),
    about,
    facts: ['control-voltage-out-of-range wrong-tap 100–700 certain/probable'],
  });

  tellUnitStory({
    name: '20.8 V running on a 240 V panel is low',
    points,
    nominal: 240,
    sent: runAt(20.8),
    about,
    facts: ['control-voltage-out-of-range low 100–700 certain/certain'],
  });

  tellUnitStory({
    name: '29.5 V running is high',
    points,
    nominal: 240,
    sent: runAt(29.5),
    about,
    facts: ['control-voltage-out-of-range high 100–700 certain/certain'],
  });

  tellUnitStory({
    name: '26 V is well, and a minute of 21 V at a start passes',
    points,
    nominal: 208,
    sent: ['100: cooling-call 1, compressor-output 1, control-voltage 21', '140: control-voltage 26'],
    about,
    facts: [],
  });
});
