import { phasor } from '../../power/starting-dip.ts';
import type { Happening, HappeningKind, Scenario } from '../plan.ts';
import { school, schoolPlan } from './school.ts';
import { shelter, shelterPlan } from './shelter.ts';

/** Scenarios of one thing each; they begin on a Wednesday. Hours are local, times within are seconds from the begin. */
const HOUR = 3600;
const happening = (at: number, length: number, what: HappeningKind): Happening => ({
  at,
  seconds: length,
  what,
});
const BOTH = ['panel-a', 'panel-b'];

const quietDay: Scenario = {
  name: 'quiet-day',
  title: 'A quiet day',
  summary: 'School and shelter on an ordinary day: calls, runs, nothing else.',
  startHour: 0,
  seconds: 24 * HOUR,
  buildings: [school([]), shelter([])],
};

const utilityOutage: Scenario = {
  name: 'utility-outage',
  title: 'The utility fails on a hot afternoon',
  summary:
    'Two reclosings, then four minutes without power: panel A restarts 3 s apart, on panel B two units together.',
  startHour: 14,
  seconds: 2 * HOUR,
  buildings: [
    school([
      happening(600, 0.33, { kind: 'utility-away', panels: BOTH }),
      happening(615, 0.5, { kind: 'utility-away', panels: BOTH }),
      happening(645, 240, { kind: 'utility-away', panels: BOTH }),
    ]),
  ],
};

const blockedCoil: Scenario = {
  name: 'blocked-coil',
  title: 'A blocked outdoor coil',
  summary: 'High pressure in unit 5: a soft lockout, a hard one, and the room above its limit.',
  startHour: 13,
  seconds: 4 * HOUR,
  buildings: [school([{ at: 900, what: { kind: 'coil-blocked', unit: 'unit-5', share: 0.75 } }])],
};

const lostCharge: Scenario = {
  name: 'lost-charge',
  title: 'A unit that has lost charge',
  summary: 'Low pressure in unit 2 just past the bypass of every run.',
  startHour: 12,
  seconds: 4 * HOUR,
  buildings: [school([{ at: 600, what: { kind: 'charge-lost', unit: 'unit-2', share: 0.6 } }])],
};

const blockedFilter: Scenario = {
  name: 'blocked-filter',
  title: 'A blocked filter',
  summary: 'No indoor airflow in unit 4, whose pressure contacts are fed by the call: low pressure.',
  startHour: 12,
  seconds: 4 * HOUR,
  buildings: [school([{ at: 600, what: { kind: 'airflow-lost', unit: 'unit-4', share: 0.65 } }])],
};

/** a source so weak that a start pulls the control voltage below the trip */
const weakPanel = { utility: 0.93, afternoonSag: 0.04, conductors: phasor(0.55, 0.18), otherAmps: 25 };

/** controls that look at the voltage of a third of a second, though nobody wrote that down */
const patient = Object.fromEntries(
  ['unit-5', 'unit-6', 'unit-7', 'unit-8'].map((id) => [
    id,
    { ...schoolPlan.units[id]!, control: { undervoltageStartGrace: 0.3 } },
  ]),
);

const weakTransformer: Scenario = {
  name: 'weak-transformer',
  title: 'A weak supply',
  summary: 'Each start on panel B pulls the control voltage below the trip: undervoltage holds in a row.',
  startHour: 13,
  seconds: 3 * HOUR,
  buildings: [
    school([], {
      ...schoolPlan,
      panels: { ...schoolPlan.panels, 'panel-b': weakPanel },
      units: { ...schoolPlan.units, ...patient },
    }),
  ],
};

const generatorNight: Scenario = {
  name: 'generator-night',
  title: 'A night on the generator',
  summary: 'The shelter loses the utility for an hour; transfer, return transfer, and two restarts.',
  startHour: 22,
  seconds: 3 * HOUR,
  buildings: [shelter([happening(1800, HOUR, { kind: 'utility-away', panels: ['panel-p'] })])],
};

const silentAlarm: Scenario = {
  name: 'silent-alarm',
  title: 'A hard lockout that nobody hears of',
  summary:
    'The lead unit locks out on high pressure while its alarm wire is broken; the lag unit carries on.',
  startHour: 14,
  seconds: 3 * HOUR,
  buildings: [
    shelter([
      { at: 0, what: { kind: 'alarm-wire-open', unit: 'unit-1' } },
      { at: 600, what: { kind: 'coil-blocked', unit: 'unit-1', share: 0.8 } },
    ]),
  ],
};

const failedStart: Scenario = {
  name: 'failed-start',
  title: 'A compressor that does not start',
  summary:
    'The output feeds the contactor, no current flows, and the shelter warms up until the lag unit is called.',
  startHour: 13,
  seconds: 3 * HOUR,
  buildings: [shelter([{ at: 900, what: { kind: 'compressor-open', unit: 'unit-1' } }])],
};

const weldedContactor: Scenario = {
  name: 'welded-contactor',
  title: 'A contactor that does not let go',
  summary: 'The compressor of the lead unit runs on with no output.',
  startHour: 13,
  seconds: 2 * HOUR,
  buildings: [shelter([{ at: 1200, what: { kind: 'contactor-welded', unit: 'unit-1' } }])],
};

const lostUplink: Scenario = {
  name: 'lost-uplink',
  title: 'An outage whose messages come late',
  summary: 'The uplink of four modules fails with the utility and comes back twenty minutes later.',
  startHour: 14,
  seconds: 2 * HOUR,
  buildings: [
    school([
      happening(600, 180, { kind: 'utility-away', panels: BOTH }),
      ...[1, 2, 5, 6].map((n) => happening(590, 1200, { kind: 'uplink-lost', gateway: `module-${n}` })),
    ]),
  ],
};

const coldMorning: Scenario = {
  name: 'cold-morning',
  title: 'Cooling in the cold',
  summary: 'A shelter that needs cooling at −12 °C: the low-pressure switch opens at each start.',
  startHour: 3,
  seconds: 4 * HOUR,
  buildings: [
    shelter([], { ...shelterPlan, weather: { mean: -8, swing: 5, hottestHour: 15, dayVariation: 1 } }),
  ],
};

export const SMALL_SCENARIOS: readonly Scenario[] = [
  quietDay,
  utilityOutage,
  blockedCoil,
  lostCharge,
  blockedFilter,
  weakTransformer,
  generatorNight,
  silentAlarm,
  failedStart,
  weldedContactor,
  lostUplink,
  coldMorning,
];
