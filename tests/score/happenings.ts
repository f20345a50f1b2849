import type { Dice } from './dice.ts';
import { HEALTHY_VOLTS, type UnitPlant } from './unit-plant.ts';

/**
 * What may befall a unit, each begun from a calm state (switches closed, healthy voltage, no lockout) with the call on
 * or off. Durations in seconds.
 */
export type Happening = (unit: UnitPlant, dice: Dice) => void;

const MANY = 3_000;

function running(unit: UnitPlant, dice: Dice, least = 5, most = 900): boolean {
  unit.set({ want: true });
  if (!unit.waitFor('running', MANY)) return false;
  unit.wait(dice.spread(least, most));
  return unit.phase === 'running';
}

function high(unit: UnitPlant, open: number): void {
  unit.set({ high: true });
  unit.wait(open);
  unit.set({ high: false });
}

function low(unit: UnitPlant, open: number): void {
  unit.set({ low: true });
  unit.wait(open);
  unit.set({ low: false });
}

function away(unit: UnitPlant, duration: number): void {
  unit.set({ volts: 0 });
  unit.wait(duration);
  unit.set({ volts: HEALTHY_VOLTS });
}

function sag(unit: UnitPlant, volts: number, duration: number): void {
  unit.set({ volts });
  unit.wait(duration);
  unit.set({ volts: HEALTHY_VOLTS });
}

function callBreak(unit: UnitPlant, duration: number): void {
  unit.set({ want: false });
  unit.wait(duration);
  unit.set({ want: true });
}

/** A hard lockout is ended as people and thermostats end it. */
function resetSomehow(unit: UnitPlant, dice: Dice): void {
  unit.wait(dice.spread(20, 4_000));
  const how = dice.pick(['satisfied', 'call', 'power'] as const);
  if (how === 'satisfied') {
    unit.set({ want: false, high: false, low: false });
    unit.wait(dice.between(300, 1_500));
  } else {
    unit.set({ high: false, low: false });
    if (how === 'call') callBreak(unit, dice.spread(2, 120));
    else away(unit, dice.spread(2, 120));
    unit.wait(dice.between(30, 900));
  }
}

const stayOpen = (which: 'high' | 'low'): Happening =>
  function (unit, dice) {
    if (!running(unit, dice)) return;
    unit.set({ [which]: true });
    unit.waitFor('hard-lockout', MANY);
    resetSomehow(unit, dice);
  };

const twice = (first: 'high' | 'low', second: 'high' | 'low'): Happening =>
  function (unit, dice) {
    for (const which of [first, second]) {
      if (!running(unit, dice, 5, 500)) return;
      if (which === 'high') high(unit, dice.spread(2, 150));
      else {
        unit.set({ low: true });
        unit.wait(unit.settings.lowPressureBypass + dice.between(1, 60));
        unit.set({ low: false });
      }
    }
    if (unit.phase === 'hard-lockout') resetSomehow(unit, dice);
    else unit.wait(dice.between(30, 600));
  };

export const HAPPENINGS = {
  'ordinary call': (unit, dice) => {
    unit.set({ want: true });
    unit.wait(dice.spread(60, 1_500));
    unit.set({ want: false });
    unit.wait(dice.spread(30, 900));
  },
  'call broken in a run': (unit, dice) => {
    if (!running(unit, dice)) return;
    callBreak(unit, dice.spread(0.15, 60));
    unit.wait(dice.between(300, 900));
  },
  'call broken in a wait': (unit, dice) => {
    if (!running(unit, dice)) return;
    high(unit, 10);
    unit.wait(dice.between(5, 150));
    callBreak(unit, dice.spread(0.3, 400));
    unit.wait(dice.between(500, 900));
  },
  'interlock in a run': (unit, dice) => {
    if (!running(unit, dice)) return;
    unit.set({ interlock: true });
    unit.wait(dice.spread(1, 900));
    unit.set({ interlock: false });
    unit.wait(dice.between(300, 600));
  },
  'one high-pressure trip': (unit, dice) => {
    if (!running(unit, dice)) return;
    high(unit, dice.spread(0.3, 200));
    unit.wait(dice.between(250, 900));
  },
  'two high-pressure trips': twice('high', 'high'),
  'high pressure stays': stayOpen('high'),
  'high pressure open as the call comes': (unit, dice) => {
    unit.set({ want: false });
    unit.wait(400);
    unit.set({ high: true });
    unit.wait(5);
    unit.set({ want: true });
    unit.wait(dice.between(5, 190));
    if (dice.chance(0.5)) unit.set({ high: false });
    unit.wait(400);
    if (unit.phase === 'hard-lockout') resetSomehow(unit, dice);
  },
  'low pressure within the bypass': (unit, dice) => {
    if (!running(unit, dice)) return;
    low(unit, dice.between(5, unit.settings.lowPressureBypass - 1));
    unit.wait(dice.between(10, 300));
  },
  'low pressure while off': (unit, dice) => {
    unit.set({ want: false });
    unit.wait(dice.between(10, 300));
    low(unit, dice.between(60, 400));
    unit.wait(dice.between(10, 300));
  },
  'one low-pressure stop': (unit, dice) => {
    if (!running(unit, dice, 5, 900)) return;
    low(unit, unit.settings.lowPressureBypass + dice.spread(0.5, 180));
    unit.wait(dice.between(250, 900));
  },
  'two low-pressure stops': twice('low', 'low'),
  'low pressure stays': stayOpen('low'),
  'high, then low pressure': twice('high', 'low'),
  'low, then high pressure': twice('low', 'high'),
  'both switches at once': (unit, dice) => {
    if (!running(unit, dice)) return;
    unit.set({ low: true });
    unit.wait(dice.between(unit.settings.lowPressureBypass - 3, unit.settings.lowPressureBypass - 0.3));
    unit.set({ high: true });
    unit.wait(dice.between(5, 60));
    unit.set({ high: false, low: false });
    unit.wait(dice.between(300, 600));
  },
  'a sag in a run': (unit, dice) => {
    if (!running(unit, dice)) return;
    sag(unit, dice.between(8, 17.8), dice.spread(0.15, 40));
    unit.wait(dice.between(250, 600));
  },
  'a sag above trip': (unit, dice) => {
    if (!running(unit, dice)) return;
    sag(unit, dice.between(18.1, 21.5), dice.spread(0.2, 50));
    unit.wait(dice.between(30, 300));
  },
  'a dip at the start': (unit, dice) => {
    unit.set({ want: false });
    unit.wait(400);
    unit.set({ want: true });
    unit.wait(dice.between(0.02, 0.3));
    sag(unit, dice.between(12, 17.5), dice.spread(0.2, 3));
    unit.wait(dice.between(300, 900));
  },
  'a sag just as the call ends': (unit, dice) => {
    if (!running(unit, dice)) return;
    unit.set({ want: false });
    unit.wait(dice.spread(0.05, 5));
    sag(unit, dice.between(8, 17), dice.between(1, 10));
    unit.wait(dice.between(200, 500));
  },
  'a trip just as the call ends': (unit, dice) => {
    if (!running(unit, dice)) return;
    const first = dice.chance(0.5);
    unit.set(first ? { high: true } : { want: false });
    unit.wait(dice.spread(0.05, 5));
    unit.set(first ? { want: false } : { high: true });
    unit.wait(dice.between(5, 60));
    unit.set({ high: false, want: false });
    unit.wait(dice.between(200, 500));
  },
  'an outage in a run': (unit, dice) => {
    if (!running(unit, dice)) return;
    away(unit, dice.spread(0.15, 900));
    unit.wait(dice.between(300, 900));
  },
  'an outage while off': (unit, dice) => {
    unit.set({ want: false });
    unit.wait(dice.between(10, 400));
    away(unit, dice.spread(0.3, 600));
    unit.wait(dice.between(10, 100));
    unit.set({ want: true });
    unit.wait(dice.between(300, 600));
  },
  'an outage in a soft lockout': (unit, dice) => {
    if (!running(unit, dice)) return;
    high(unit, dice.spread(1, 60));
    unit.wait(dice.between(5, 100));
    away(unit, dice.spread(0.3, 100));
    unit.wait(dice.between(300, 900));
  },
  'a reclosing sequence': (unit, dice) => {
    if (!running(unit, dice)) return;
    for (const gap of [0.5, 15, 45]) {
      away(unit, dice.between(0.2, 3));
      unit.wait(gap * dice.between(0.7, 1.3));
    }
    if (dice.chance(0.3)) away(unit, dice.spread(30, 900));
    unit.wait(dice.between(300, 900));
  },
  'a thermostat that reboots': (unit, dice) => {
    if (!running(unit, dice)) return;
    unit.set({ volts: 0, want: false });
    unit.wait(dice.spread(1, 300));
    unit.set({ volts: HEALTHY_VOLTS });
    unit.wait(dice.between(20, 330));
    unit.set({ want: true });
    unit.wait(dice.between(300, 900));
  },
  'a welded contactor': (unit, dice) => {
    if (!running(unit, dice)) return;
    unit.fault({ welded: true });
    if (dice.chance(0.5)) high(unit, 20);
    else unit.set({ want: false });
    unit.wait(dice.spread(1, 900));
    unit.fault({ welded: false });
    unit.wait(dice.between(200, 600));
  },
  'a compressor that fails at the start': (unit, dice) => {
    unit.set({ want: false });
    unit.wait(250);
    unit.fault({ dead: true });
    unit.set({ want: true });
    unit.wait(dice.spread(1, 400));
    unit.fault({ dead: false });
    unit.wait(dice.between(30, 400));
  },
  'a compressor that fails in its run': (unit, dice) => {
    if (!running(unit, dice)) return;
    unit.fault({ dead: true });
    unit.wait(dice.spread(1, 400));
    if (dice.chance(0.5)) unit.set({ want: false });
    unit.wait(5);
    unit.fault({ dead: false });
    unit.wait(dice.between(30, 400));
  },
  'a delay that is missing': (unit, dice) => {
    const { offDelay } = unit.settings;
    unit.setTo({ offDelay: dice.spread(3, 60) });
    for (let i = 0; i < 3; i++) {
      running(unit, dice, 5, 200);
      if (dice.chance(0.3)) high(unit, 2);
      else callBreak(unit, dice.spread(0.5, 150));
    }
    unit.wait(30);
    unit.setTo({ offDelay });
    unit.wait(dice.between(300, 600));
  },
  'many short calls': (unit, dice) => {
    const length = dice.between(60, 150);
    for (let i = 0; i < 16; i++) {
      unit.set({ want: true });
      unit.wait(length);
      unit.set({ want: false });
      unit.wait(unit.settings.offDelay * dice.between(0.6, 1.3));
    }
  },
  'an alarm contact that closes by itself': (unit, dice) => {
    if (dice.chance(0.5) && !running(unit, dice)) return;
    unit.fault({ alarmStray: true });
    unit.wait(dice.spread(2, 300));
    unit.fault({ alarmStray: false });
    unit.wait(dice.between(30, 200));
  },
  'an alarm circuit that is silent': (unit, dice) => {
    unit.fault({ alarmSilent: true });
    dice.pick([twice('high', 'high'), stayOpen('high'), stayOpen('low')])(unit, dice);
    unit.set({ high: false, low: false, want: false });
    unit.wait(200);
    unit.fault({ alarmSilent: false });
  },
} as const satisfies Record<string, Happening>;

/** What must not go on for ever: switches close, the voltage is back, a lockout is reset. */
export function calm(unit: UnitPlant, dice: Dice): void {
  unit.set({ high: false, low: false, volts: HEALTHY_VOLTS, interlock: false });
  if (unit.phase === 'hard-lockout') callBreak(unit, dice.between(10, 60));
  if (dice.chance(0.4)) unit.set({ want: false });
  unit.wait(dice.spread(30, 1_200));
}
