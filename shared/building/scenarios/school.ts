import { phasor } from '../../power/starting-dip.ts';
import type { BuildingPlan, Happening, ScenarioBuilding, UnitPlan } from '../plan.ts';

/**
 * A school of our own invention: eight modular classrooms with a wall unit each, on two panels. Panel A's controls are
 * set 30 s apart, so that their restarts stand 3 s apart; on panel B two are set alike.
 */
export const SCHOOL = 'harrow-lane';

const ROOMS = [1, 2, 3, 4, 5, 6, 7, 8];
const OFF_DELAYS: Readonly<Record<number, number>> = {
  1: 180,
  2: 210,
  3: 240,
  4: 270,
  5: 180,
  6: 210,
  7: 210,
  8: 240,
};
const panelOf = (n: number): string => (n <= 4 ? 'panel-a' : 'panel-b');

const onChange = (more: object = {}): object => ({ reporting: { mode: 'on-change' }, ...more });
const polled = (seconds: number): object => ({ reporting: { mode: 'polled', seconds } });

/** Wiring differs from unit to unit, as it does in the field. */
function unitPoints(n: number): object[] {
  const gateway = `module-${n}`;
  const contact = (signal: string, more: object = {}): object => ({ signal, gateway, ...onChange(more) });
  const switches = { contact: 'normally-closed', sense: n === 4 ? 'loop' : 'isolated' };
  const call = n === 7 ? [] : [contact('cooling-call', n === 8 ? { sense: 'upstream' } : {})];
  const pressures =
    n === 3 || n === 7 ? [] : [contact('high-pressure', switches), contact('low-pressure', switches)];
  return [
    ...call,
    contact('compressor-output'),
    ...pressures,
    contact('lockout-alarm'),
    { signal: 'control-voltage', gateway, ...onChange({ deadband: 0.2 }) },
  ];
}

const unitDocument = (n: number): object => ({
  id: `unit-${n}`,
  name: `Room ${n}`,
  panel: panelOf(n),
  space: `room-${n}`,
  nameplate: { lockedRotorAmps: 96, ratedLoadAmps: 17.9 },
  position: 'outside wall, below the window',
  notes: 'Simulated.',
  protection: { offDelay: OFF_DELAYS[n], ...(n % 2 === 1 ? { lowPressureBypass: 120 } : {}) },
  points: unitPoints(n),
});

const panelDocument = (letter: 'a' | 'b'): object => ({
  id: `panel-${letter}`,
  name: `Panel ${letter.toUpperCase()}`,
  nominalVoltage: 240,
  phases: 1,
  frequency: 60,
  supply: { kind: 'transformer', ratedKva: 50, impedancePercent: 2, reactanceToResistance: 1.5 },
  minimumStartSeparation: 2,
  points: [{ signal: 'line-voltage', gateway: `meter-${letter}`, ...onChange({ deadband: 0.3 }) }],
});

const schoolDocument: object = {
  name: 'Harrow Lane School (simulated)',
  timeZone: 'America/Chicago',
  address: 'Nowhere: this building is simulated.',
  access: 'No key is needed: this building is simulated.',
  notes: 'A simulated building. Everything that happens in it is invented.',
  gateways: [
    ...ROOMS.map((n) => ({ id: `module-${n}`, heartbeatSeconds: 300, clockUncertainty: 0.05 })),
    { id: 'meter-a', heartbeatSeconds: 300, clockUncertainty: 0.05 },
    { id: 'meter-b', heartbeatSeconds: 300, clockUncertainty: 0.05 },
    { id: 'rooms', heartbeatSeconds: 300, clockUncertainty: 0.5 },
  ],
  spaces: ROOMS.map((n) => ({
    id: `room-${n}`,
    name: `Room ${n}`,
    limits: { temperature: 30 },
    unitsNeeded: 1,
    inUse: [{ days: 'mon-fri', from: '07:30', to: '16:00' }],
    points: [{ signal: 'space-temperature', gateway: 'rooms', ...polled(60) }],
  })),
  panels: [panelDocument('a'), panelDocument('b')],
  units: ROOMS.map(unitDocument),
  points: [{ signal: 'outdoor-temperature', gateway: 'rooms', ...polled(60) }],
};

const unitPlan = (n: number): UnitPlan => ({
  capacity: 10_500,
  startSeconds: 0.42,
  startPowerFactor: 0.736,
  runPowerFactor: 0.9,
  controlRatio: 26.2 / 240,
  coilDrop: 0.7,
  // timers of one make: a fraction of a percent apart
  timerError: ((n * 7) % 5) / 2500 - 0.0008,
});

export const schoolPlan: BuildingPlan = {
  seed: 20_260,
  utcOffsetHours: -5,
  weather: { mean: 28.5, swing: 7, hottestHour: 15.5, dayVariation: 2 },
  rooms: Object.fromEntries(
    ROOMS.map((n) => [
      `room-${n}`,
      {
        air: 1.6e6,
        mass: 9e6,
        coupling: 450,
        toOutdoors: 150 + 6 * n,
        sun: 1700 + 90 * ((n * 3) % 5),
        equipment: 500,
        inUse: 2700 + 60 * n,
      },
    ]),
  ),
  panels: {
    'panel-a': { utility: 1.008, afternoonSag: 0.01, conductors: phasor(0.012, 0.004), otherAmps: 40 },
    'panel-b': { utility: 1.004, afternoonSag: 0.012, conductors: phasor(0.015, 0.005), otherAmps: 30 },
  },
  units: Object.fromEntries(ROOMS.map((n) => [`unit-${n}`, unitPlan(n)])),
  controllers: ROOMS.map((n) => ({
    kind: 'thermostat',
    space: `room-${n}`,
    units: [`unit-${n}`],
    setPoint: 23.5 + 0.2 * (n % 3),
    setBack: 28.5,
    earlyMinutes: 35 + 5 * n,
    differential: 1.4,
    minimumOff: 0,
    afterPowerReturn: 0,
  })),
};

export const school = (happenings: readonly Happening[], plan = schoolPlan): ScenarioBuilding => ({
  site: SCHOOL,
  document: schoolDocument,
  plan,
  happenings,
});
