import { phasor } from '../../power/starting-dip.ts';
import type { BuildingPlan, Happening, ScenarioBuilding, UnitPlan } from '../plan.ts';

/** A telecom shelter of our own invention: two units, lead and lag, a generator, heat day and night. */
export const SHELTER = 'pine-ridge';

const onChange = (more: object = {}): object => ({ reporting: { mode: 'on-change' }, ...more });
const polled = (seconds: number): object => ({ reporting: { mode: 'polled', seconds } });

function unitPoints(n: number): object[] {
  const gateway = `module-${n}`;
  const contact = (signal: string, more: object = {}): object => ({ signal, gateway, ...onChange(more) });
  const switches = { contact: 'normally-closed', sense: 'isolated' };
  return [
    contact('cooling-call'),
    contact('compressor-output'),
    contact('high-pressure', switches),
    contact('low-pressure', switches),
    contact('lockout-alarm'),
    { signal: 'control-voltage', gateway, ...polled(10) },
    { signal: 'compressor-current', gateway, ...onChange({ deadband: 1.5 }) },
    { signal: 'supply-air-temperature', gateway, ...polled(60) },
    { signal: 'return-air-temperature', gateway, ...polled(60) },
  ];
}

const unitDocument = (n: 1 | 2): object => ({
  id: `unit-${n}`,
  name: n === 1 ? 'Unit 1, left' : 'Unit 2, right',
  panel: 'panel-p',
  space: 'shelter',
  role: n === 1 ? 'lead' : 'lag',
  nameplate: { lockedRotorAmps: 83, ratedLoadAmps: 15.2 },
  position: n === 1 ? 'left of two, seen from outside' : 'right of two, seen from outside',
  notes: 'Simulated.',
  protection: { offDelay: n === 1 ? 180 : 210, lowPressureBypass: 120, undervoltageTrip: 18 },
  points: unitPoints(n),
});

const shelterDocument: object = {
  name: 'Pine Ridge Shelter (simulated)',
  timeZone: 'America/Denver',
  address: 'Nowhere: this building is simulated.',
  access: 'No key is needed: this building is simulated.',
  notes: 'A simulated building. Everything that happens in it is invented.',
  gateways: ['module-1', 'module-2', 'power-monitor', 'air'].map((id) => ({
    id,
    heartbeatSeconds: 300,
    clockUncertainty: 0.05,
  })),
  spaces: [
    {
      id: 'shelter',
      name: 'Equipment shelter',
      limits: { temperature: 35 },
      unitsNeeded: 1,
      points: [{ signal: 'space-temperature', gateway: 'air', ...polled(30) }],
    },
  ],
  panels: [
    {
      id: 'panel-p',
      name: 'Panel P',
      nominalVoltage: 240,
      phases: 1,
      frequency: 60,
      supply: { kind: 'transformer', ratedKva: 25, impedancePercent: 2, reactanceToResistance: 1.5 },
      minimumStartSeparation: 2,
      points: [
        { signal: 'line-voltage', gateway: 'power-monitor', ...onChange({ deadband: 0.3 }) },
        { signal: 'utility-failed', gateway: 'power-monitor', ...onChange() },
        { signal: 'generator-running', gateway: 'power-monitor', ...onChange() },
      ],
    },
  ],
  units: [unitDocument(1), unitDocument(2)],
  points: [{ signal: 'outdoor-temperature', gateway: 'air', ...polled(60) }],
};

const unitPlan: UnitPlan = {
  capacity: 9_000,
  startSeconds: 0.38,
  startPowerFactor: 0.736,
  runPowerFactor: 0.9,
  controlRatio: 26 / 240,
  coilDrop: 0.6,
  timerError: 0.0006,
};

export const shelterPlan: BuildingPlan = {
  seed: 71_177,
  utcOffsetHours: -6,
  weather: { mean: 24, swing: 9, hottestHour: 15, dayVariation: 2.5 },
  rooms: {
    shelter: {
      air: 0.7e6,
      mass: 3e6,
      coupling: 350,
      toOutdoors: 55,
      sun: 500,
      equipment: 5_600,
      inUse: 0,
    },
  },
  panels: {
    'panel-p': { utility: 1.006, afternoonSag: 0.008, conductors: phasor(0.015, 0.0045), otherAmps: 35 },
  },
  units: { 'unit-1': unitPlan, 'unit-2': { ...unitPlan, timerError: -0.0004 } },
  controllers: [
    {
      kind: 'lead-lag',
      space: 'shelter',
      units: ['unit-1', 'unit-2'],
      setPoint: 25,
      differential: 2.4,
      stage: 2,
      rotateDays: 100_000,
      onGenerator: 2,
    },
  ],
  generator: {
    panels: ['panel-p'],
    kva: 45,
    transientReactance: 0.2,
    startSeconds: 11,
    returnSeconds: 300,
    breakSeconds: 0.6,
    coolDownSeconds: 300,
  },
};

export const shelter = (happenings: readonly Happening[], plan = shelterPlan): ScenarioBuilding => ({
  site: SHELTER,
  document: shelterDocument,
  plan,
  happenings,
});
