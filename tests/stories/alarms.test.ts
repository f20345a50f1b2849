import { describe, expect, it } from 'vitest';
import { AlarmTelling, tellAlarms, type AlarmStory } from './alarm-story.ts';

/**
 * What people are told, and what not (handbook 7): one cause is one alarm, what is over when it is learned pages nobody, a
 * hard lockout stays until somebody closes it, work in progress keeps its own units quiet.
 */
const UNITS = Array.from({ length: 12 }, (_, i) => `unit-${i + 1}`);
const shelter = {
  panels: [{ id: 'panel-a' }],
  spaces: [{ id: 'shelter' }],
  units: UNITS.map((id) => ({
    id,
    panel: 'panel-a',
    space: 'shelter',
    points: [{ signal: 'control-voltage' }],
  })),
};
const room = {
  panels: [{ id: 'panel-a' }],
  spaces: [{ id: 'room-1' }, { id: 'room-2' }],
  units: [
    { id: 'unit-1', panel: 'panel-a', space: 'room-1', points: [{ signal: 'lockout-alarm' }] },
    { id: 'unit-2', panel: 'panel-a', space: 'room-1', points: [{ signal: 'lockout-alarm' }] },
  ],
};
const each = (text: (unit: string) => string, units = UNITS): string[] => units.map(text);
const BACK = UNITS.slice(0, 11);

const STORIES: readonly AlarmStory[] = [
  {
    name: 'an outage of a shelter with 12 units is one alarm; the unit that doesn’t come back is raised once, after its power-up delay and 60 s',
    site: shelter,
    happens: [
      ...each((unit) => `0: ${unit} power-loss supply`),
      `5: shelter loss-of-cooling lost ${UNITS.join(' ')}`,
      '120: Ada acknowledges power-loss panel-a',
      ...each((unit) => `600: ${unit} power-loss over`, BACK),
      '760: shelter loss-of-cooling over',
      '760: shelter loss-of-cooling reduced unit-12',
      '2000: nothing more',
    ],
    // power-up delay 120 + 0.1 × 210 s, 5 % longer at most, and 60 s: 208.05 s after the power's return at 600
    without: ['suppressed', 'suppressor-changed', 'unsuppressed', 'cleared'],
    journal: [
      '60: power-loss panel-a raised → B major',
      ...each((unit) => `60: unit-power-loss ${unit} raised → H major`),
      '65: power-loss panel-a made-worse → B critical',
      '65: cooling-lost shelter raised → H critical',
      '120: power-loss panel-a acknowledged → C critical',
      '600: power-loss panel-a returned → A critical',
      ...each((unit) => `600: unit-power-loss ${unit} returned → A major`, BACK),
      '760: cooling-lost shelter returned → A critical',
      '760: cooling-reduced shelter raised → H major',
      '808: unit-power-loss unit-12 raised → B major',
    ],
    stands: ['unit-power-loss unit-12 major', 'cooling-reduced shelter major < unit-power-loss:unit/unit-12'],
  },
  {
    name: 'a backlog of six hours: a hard lockout that is over by its end pages nobody, one that still stands is raised once',
    site: room,
    happens: [
      '0: unit-1 is behind -21600',
      '0: unit-2 is behind -21600',
      '0: learns of unit-1 hard-lockout high-pressure from -21000',
      '0: learns of unit-2 hard-lockout low-pressure from -18000',
      '50: unit-1 is behind -14000',
      '50: unit-2 is behind -14000',
      '90: unit-1 is behind -7000',
      '90: unit-1 hard-lockout over',
      '90: unit-2 is behind -3000',
      '120: unit-1 has caught up',
      '120: unit-2 has caught up',
      '600: nothing more',
    ],
    journal: ['120: hard-lockout unit-2 raised → B major'],
    stands: ['hard-lockout unit-2 major'],
  },
  {
    name: 'what stands behind a gateway whose clock is slow is raised all the same, a minute later',
    site: room,
    happens: [
      '0: unit-1 is behind -300',
      '0: learns of unit-1 hard-lockout high-pressure from -310',
      '10: unit-1 is behind -290',
      '50: unit-1 is behind -250',
      '300: nothing more',
    ],
    journal: ['60: hard-lockout unit-1 raised → B major'],
  },
  {
    name: 'an event that was over when it was learned is a line of the journal',
    site: room,
    happens: ['0: learns of unit-1 hard-lockout high-pressure from -20000 to -18000', '600: nothing more'],
    journal: ['0: unit-1 learned-late'],
    stands: [],
  },
  {
    name: 'a hard lockout that the end of the call has reset stays until somebody closes it',
    site: room,
    happens: [
      '0: unit-1 hard-lockout high-pressure',
      '50: Ada acknowledges hard-lockout unit-1',
      '300: unit-1 hard-lockout over',
      '90000: Ada closes hard-lockout unit-1',
      '90001: nothing more',
    ],
    journal: [
      '0: hard-lockout unit-1 raised → B major',
      '50: hard-lockout unit-1 acknowledged → C major',
      '300: hard-lockout unit-1 returned → F major',
      '90000: hard-lockout unit-1 closed → A major',
      '90000: hard-lockout unit-1 cleared → A major',
    ],
    stands: [],
  },
  {
    name: 'a hard lockout that was reset before anybody could see it is raised, to be closed',
    site: room,
    happens: ['10: learns of unit-1 hard-lockout high-pressure from 0 to 8', '100: nothing more'],
    journal: ['10: hard-lockout unit-1 raised → B major', '10: hard-lockout unit-1 returned → E major'],
    stands: ['hard-lockout unit-1 major'],
  },
  {
    name: 'a hard lockout that leaves its room without cooling is critical, and the loss is listed under it',
    site: room,
    happens: [
      '0: unit-1 hard-lockout high-pressure',
      '1: room-1 loss-of-cooling reduced unit-1',
      '20: unit-2 hard-lockout high-pressure',
      '21: room-1 loss-of-cooling lost unit-1 unit-2',
      '200: nothing more',
    ],
    without: ['suppressed'],
    journal: [
      '0: hard-lockout unit-1 raised → B major',
      '1: cooling-reduced room-1 raised → H major',
      '20: hard-lockout unit-2 raised → B major',
      '21: hard-lockout unit-1 made-worse → B critical',
      '21: hard-lockout unit-2 made-worse → B critical',
      '81: cooling-lost room-1 raised → H critical',
    ],
  },
  {
    name: 'a room that hears of the end of its lockout two seconds later raises nothing of its own meanwhile',
    site: room,
    happens: [
      '0: unit-1 hard-lockout high-pressure',
      '1: room-1 loss-of-cooling reduced unit-1',
      '300: unit-1 hard-lockout over',
      '302: room-1 loss-of-cooling over',
      '600: nothing more',
    ],
    without: ['suppressed', 'unsuppressed', 'cleared'],
    journal: [
      '0: hard-lockout unit-1 raised → B major',
      '1: cooling-reduced room-1 raised → H major',
      '300: hard-lockout unit-1 returned → E major',
      '302: cooling-reduced room-1 returned → A major',
    ],
  },
  {
    name: 'a power loss of 20 s is no alarm, nor are the waits after it',
    site: shelter,
    happens: [
      ...each((unit) => `0: ${unit} power-loss supply`),
      `5: shelter loss-of-cooling reduced ${UNITS.join(' ')}`,
      ...each((unit) => `20: ${unit} power-loss over`),
      '170: shelter loss-of-cooling over',
      '600: nothing more',
    ],
    without: ['suppressed', 'unsuppressed', 'returned', 'cleared'],
    journal: ['5: cooling-reduced shelter raised → H major'],
    stands: [],
  },
  {
    name: 'late data that move the start keep the alarm and its person; data that take the event back say so',
    site: room,
    happens: [
      '0: unit-1 hard-lockout high-pressure',
      '50: Ada acknowledges hard-lockout unit-1',
      '100: unit-1 hard-lockout moved to -30',
      '200: unit-1 hard-lockout withdrawn',
    ],
    journal: [
      '0: hard-lockout unit-1 raised → B major',
      '50: hard-lockout unit-1 acknowledged → C major',
      '100: hard-lockout unit-1 replaced → C major',
      '200: hard-lockout unit-1 withdrawn → A major',
      '200: hard-lockout unit-1 cleared → A major',
    ],
  },
  {
    name: 'a disconnect pulled during work pages nobody; the room’s temperature does; what is still true afterwards is raised',
    site: room,
    happens: [
      '0: Ada works on unit-1 for 30 min',
      '60: unit-1 power-loss unit-only',
      '300: room-1 high-temperature measured',
      '600: room-1 high-temperature over',
      '2000: nothing more',
    ],
    without: ['suppressed', 'unsuppressed'],
    journal: [
      '120: unit-power-loss unit-1 raised → H major',
      '360: high-temperature room-1 raised → B critical',
      '600: high-temperature room-1 returned → D critical',
      '1800: unit-power-loss unit-1 raised → B major',
    ],
  },
  {
    name: 'a repair that a person closed: the first stop for the same cause pages, and the lockout that follows is beneath it',
    site: room,
    happens: [
      '0: unit-1 hard-lockout high-pressure',
      '10: Ada acknowledges hard-lockout unit-1',
      '20: unit-1 hard-lockout over',
      '30: Ada closes hard-lockout unit-1',
      '4000: unit-1 soft-lockout high-pressure',
      '4300: unit-1 hard-lockout high-pressure',
      '4301: unit-1 soft-lockout over',
      '4400: unit-1 hard-lockout over',
      '9000: nothing more',
    ],
    without: ['suppressed', 'suppressor-changed', 'unsuppressed', 'cleared', 'amended'],
    journal: [
      '0: hard-lockout unit-1 raised → B major',
      '10: hard-lockout unit-1 acknowledged → C major',
      '20: hard-lockout unit-1 returned → F major',
      '30: hard-lockout unit-1 closed → A major',
      '4000: repair-failed unit-1 raised → B major',
      '4300: hard-lockout unit-1 raised → H major',
      '4300: hard-lockout-again unit-1 raised → H major',
      '4400: repair-failed unit-1 returned → E major',
      '4400: hard-lockout unit-1 returned → A major',
      '4400: hard-lockout-again unit-1 returned → A major',
    ],
    stands: ['repair-failed unit-1 major'],
  },
  {
    name: 'after a repair a stop for another reason, or before it was closed, pages nobody',
    site: room,
    happens: [
      '0: unit-1 hard-lockout high-pressure',
      '20: unit-1 hard-lockout over',
      '25: unit-1 soft-lockout high-pressure',
      '30: Ada closes hard-lockout unit-1',
      '100: nothing more',
      '235: unit-1 soft-lockout over',
      '4000: unit-1 soft-lockout low-pressure',
      '4210: unit-1 soft-lockout over',
      '9000: nothing more',
    ],
    journal: [
      '0: hard-lockout unit-1 raised → B major',
      '20: hard-lockout unit-1 returned → E major',
      '30: hard-lockout unit-1 closed → A major',
      '30: hard-lockout unit-1 cleared → A major',
    ],
  },
  {
    name: 'a shelved root hides nothing that is worse than it was',
    site: room,
    happens: [
      '0: unit-1 hard-lockout high-pressure',
      '10: Ada shelves hard-lockout unit-1 for 3600',
      '20: unit-1 hard-lockout over',
      '30: unit-1 power-loss unit-only',
      '100: Ada shelves unit-power-loss unit-1 for 3600',
      '200: room-1 loss-of-cooling lost unit-1',
      '300: nothing more',
    ],
    journal: [
      '0: hard-lockout unit-1 raised → B major',
      '10: hard-lockout unit-1 shelved → G major',
      '20: hard-lockout unit-1 returned → G major',
      '90: unit-power-loss unit-1 raised → B major',
      '100: unit-power-loss unit-1 shelved → G major',
      '260: cooling-lost room-1 raised → B critical',
    ],
  },
  {
    name: 'a second soft lockout within 24 h is a task, and closes itself a day later',
    site: room,
    happens: [
      '0: learns of unit-1 soft-lockout high-pressure from -300 to -90',
      '40000: learns of unit-1 soft-lockout high-pressure from 39000 to 39210',
    ],
    journal: [],
    tasks: ['second-soft-lockout:unit/unit-1'],
  },
];

describe('alarms', () => {
  STORIES.forEach(tellAlarms);

  it('closes a task when its evidence is a day old', () => {
    const told = new AlarmTelling({ site: room });
    told.tell('0: learns of unit-1 soft-lockout high-pressure from -300 to -90');
    told.tell('40000: learns of unit-1 soft-lockout high-pressure from 39000 to 39210');
    expect(told.state.tasks).toHaveLength(1);
    told.tell('126000: nothing more');
    expect(told.state.tasks).toEqual([]);
  });

  it('says why not', () => {
    const told = new AlarmTelling({ site: room });
    told.tell('0: unit-1 hard-lockout high-pressure');
    told.tell('10: Ada closes hard-lockout unit-1');
    told.tell('20: Ada acknowledges hard-lockout unit-1');
    told.tell('30: Ben acknowledges hard-lockout unit-1');
    expect(told.outcomes).toEqual(['still-true', null, 'already-acknowledged']);
  });
});
