import { describe } from 'vitest';
import { tellStory, wired, type Story } from './run.ts';

/**
 * Cooling reduced or lost (handbook 6): a call waits, or the space is above its limit, while too few units can run. A wait
 * that ends by itself is no loss until it is overdue, or while the space is above its limit.
 */
const LIMIT = { limits: { temperature: 30 } };
const temperature = { signal: 'space-temperature', reporting: { mode: 'polled', seconds: 60 } };
const panels = [{ id: 'panel-a' }];
const inRoom = (id: string, more = {}) => wired(id, { space: 'room', ...more });
const room = (more: object, ...units: object[]) => ({ panels, spaces: [{ id: 'room', ...more }], units });
const ONE = room({}, inRoom('unit-1'));
const TWO = room({ unitsNeeded: 1 }, inRoom('unit-1'), inRoom('unit-2'));
const warm = (from: number, ...degrees: number[]) =>
  degrees.map((value, i) => `${from + 60 * i}: room space-temperature ${value}`);

const polled = (id: string) =>
  inRoom(id, {
    points: ['cooling-call', 'compressor-output'].map((signal) => ({
      signal,
      reporting: { mode: 'polled', seconds: 10 },
    })),
  });

const STORIES: readonly Story[] = [
  {
    name: 'the only unit latches out while it is called: lost, until the call is broken',
    about: 'room',
    site: ONE,
    happens: [
      '0: unit-1 is called',
      '0: unit-1 starts',
      '600: unit-1 stops',
      '600: unit-1 latches out',
      '4000: unit-1 is no longer called',
      '4000: unit-1 is reset',
    ],
    facts: ['loss-of-cooling lost 600–4000 certain/certain: unit-1'],
    measures: { able: 0, installed: 1, needed: 1 },
  },
  {
    name: 'one of two latches out, one is needed: reduced',
    about: 'room',
    site: TWO,
    happens: ['0: unit-1 is called', '0: unit-1 starts', '600: unit-1 stops', '600: unit-1 latches out'],
    facts: ['loss-of-cooling reduced 600–… certain/certain: unit-1'],
    standing: { space: { cooling: 'reduced', able: 1, installed: 2, needed: 1 } },
  },
  {
    name: 'the second latches out as well: reduced, then lost, then reduced again',
    about: 'room',
    site: TWO,
    happens: [
      '0: unit-1 is called',
      '0: unit-1 starts',
      '600: unit-1 stops',
      '600: unit-1 latches out',
      '700: unit-2 is called',
      '700: unit-2 starts',
      '900: unit-2 stops',
      '900: unit-2 latches out',
      '2000: unit-2 is no longer called',
      '2000: unit-2 is reset',
    ],
    facts: [
      'loss-of-cooling reduced 600–900 certain/certain: unit-1',
      'loss-of-cooling lost 900–2000 certain/certain: unit-1 unit-2',
      'loss-of-cooling reduced 2000–… certain/certain: unit-1',
    ],
  },
  {
    name: 'two are needed: one that can’t run is a loss',
    about: 'room',
    site: room({ unitsNeeded: 2 }, inRoom('unit-1'), inRoom('unit-2')),
    happens: ['0: unit-1 is called', '0: unit-1 starts', '600: unit-1 stops', '600: unit-1 latches out'],
    facts: ['loss-of-cooling lost 600–… certain/certain: unit-1'],
  },
  {
    name: 'an off-cycle delay, a soft lockout and a power-up delay end by themselves: no loss',
    about: 'room',
    site: ONE,
    happens: [
      '0: unit-1 is called',
      '0: unit-1 starts',
      '300: unit-1 stops',
      '300: unit-1 is in soft lockout',
      '510: unit-1 starts',
      '510: unit-1 may run again',
      '900: unit-1 stops',
      '900: unit-1 is no longer called',
      '950: unit-1 is called',
      '1110: unit-1 starts',
    ],
    facts: [],
  },
  {
    name: 'a retry that doesn’t come is a loss once it is overdue; the delay is only recorded, so probable',
    about: 'room',
    site: ONE,
    happens: [
      '0: unit-1 is called',
      '0: unit-1 starts',
      '300: unit-1 stops',
      '300: unit-1 is in soft lockout',
      '2000: unit-1 starts',
    ],
    // 300.1 + (210 + 10) × 1.05 [computed]
    facts: ['loss-of-cooling lost 531.1–2000 probable/probable: unit-1'],
  },
  {
    name: 'a call sensed upstream may be held off by an economiser: never overdue',
    about: 'room',
    site: room(
      {},
      inRoom('unit-1', {
        points: [{ signal: 'cooling-call', sense: 'upstream' }, { signal: 'compressor-output' }],
      }),
    ),
    happens: ['0: unit-1 is called', '5000: unit-1 starts'],
    facts: [],
  },
  {
    name: 'while the space is above its limit, a wait counts',
    about: 'room',
    site: room({ ...LIMIT, points: [temperature] }, inRoom('unit-1')),
    happens: [
      ...warm(0, 29, 31, 32, 33, 32, 31, 29),
      '10: unit-1 is called',
      '10: unit-1 starts',
      '100: unit-1 stops',
      '100: unit-1 is in soft lockout',
      '310: unit-1 starts',
    ],
    readAt: 400,
    facts: [
      'high-temperature measured 0..60–300..360 certain/certain',
      'loss-of-cooling lost 100–310 probable/probable: unit-1',
    ],
  },
  {
    name: 'an outage takes a called unit’s power: the call can’t be seen, so probable; it ends with the power’s return',
    about: 'room',
    site: ONE,
    happens: [
      '0: unit-1 is called',
      '0: unit-1 starts',
      '600: unit-1 stops',
      '600: unit-1 is no longer called',
      '600: unit-1 loses power',
      '900: unit-1 has power again',
      '900: unit-1 is called',
      '1041: unit-1 starts',
    ],
    facts: ['loss-of-cooling lost 600–900 probable/probable: unit-1'],
  },
  {
    name: 'an outage while nothing was called is no loss until the space is too warm',
    about: 'room',
    site: room({ ...LIMIT, points: [temperature] }, inRoom('unit-1')),
    happens: [
      '0: unit-1 loses power',
      ...warm(0, 27, 28, 29, 30, 31, 32, 33, 34, 33, 31, 29),
      '400: unit-1 has power again',
    ],
    readAt: 650,
    facts: [
      'high-temperature measured 180..240–540..600 certain/certain',
      'loss-of-cooling lost 180..240–400 certain/certain: unit-1',
    ],
  },
  {
    name: 'the output is on and no current flows: a failed start leaves the space without',
    about: 'room',
    site: ONE,
    happens: [
      '0: unit-1 is called',
      '0: unit-1 starts',
      '2: unit-1 draws no current',
      '100: unit-1 draws current again',
    ],
    facts: ['loss-of-cooling lost 2–100 certain/certain: unit-1'],
  },
  {
    name: 'three undervoltage holds in a row, each at its start, count until a run outlasts 10 s',
    about: 'room',
    site: ONE,
    happens: [
      '0: unit-1 is called',
      ...[0, 212, 424].flatMap((at) => [
        `${at}: unit-1 starts`,
        `${at + 2}: unit-1 stops`,
        `${at + 2}: unit-1 drops at its start`,
      ]),
      '636: unit-1 starts',
    ],
    facts: ['loss-of-cooling lost 426–646 certain/certain: unit-1'],
  },
  {
    name: 'a heat pump’s call may be for heat: judged by temperature only',
    about: 'room',
    site: room({}, inRoom('unit-1', { equipment: 'heat-pump' })),
    happens: ['0: unit-1 is called', '600: unit-1 latches out'],
    facts: [],
  },
  {
    name: 'another unit was silent: it may have failed sooner, so probable',
    about: 'room',
    site: room({ unitsNeeded: 2 }, inRoom('unit-1'), inRoom('unit-2')),
    happens: [
      '0: unit-2 is silent',
      '100: unit-1 is called',
      '100: unit-1 starts',
      '600: unit-1 stops',
      '600: unit-1 latches out',
    ],
    facts: ['loss-of-cooling lost 600–… probable/probable: unit-1'],
    standing: { space: { cooling: 'lost', able: 1, installed: 2 } },
  },
  {
    name: 'one lockout ends in the poll in which the other begins: whether both stood at once can’t be told',
    about: 'room',
    site: room({ unitsNeeded: 1 }, polled('unit-1'), polled('unit-2')),
    happens: [
      '0: unit-1 is called',
      '0: unit-2 is called',
      '0: unit-1 starts',
      '0: unit-2 starts',
      '100..110: unit-1 stops',
      '100..110: unit-1 latches out',
      '200..210: unit-2 stops',
      '200..210: unit-2 latches out',
      '202..212: unit-1 is reset',
      '202..212: unit-1 starts',
      '600: unit-2 is reset',
      '600: unit-2 starts',
    ],
    facts: ['loss-of-cooling reduced 100..110–200..600.1 certain/certain: unit-1 unit-2'],
  },
];

describe('loss of cooling', () => STORIES.forEach(tellStory));
