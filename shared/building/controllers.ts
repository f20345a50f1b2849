import { seconds, SECOND, type Instant } from '../base/instant.ts';
import type { BuildingState, ControllerRun } from './building-state.ts';
import { noise } from './noise.ts';
import type { LeadLagPlan, ThermostatPlan } from './plan.ts';
import { localHour } from './weather.ts';
import { isInUse, type ControllerWiring, type Wiring } from './wiring.ts';

/** Who calls for cooling: room thermostats and lead/lag controllers decide at every step of the grid. */
export function decideCalls(wiring: Wiring, state: BuildingState, t: Instant): void {
  wiring.controllers.forEach((controller, i) => {
    const run = state.controllers[i]!;
    if (controller.plan.kind === 'thermostat') decideRoom(wiring, state, controller, run, controller.plan, t);
    else decideStages(wiring, state, controller, run, controller.plan, t);
  });
}

function decideRoom(
  wiring: Wiring,
  state: BuildingState,
  { room: place, units }: ControllerWiring,
  run: ControllerRun,
  plan: ThermostatPlan,
  t: Instant,
): void {
  const room = state.rooms[place]!;
  const setPoint = room.setPoint ?? scheduled(wiring, place, plan, t);
  const isOn = run.on[0] === true;
  const boots = rebooting(state, run, units, plan.afterPowerReturn, t);
  const rests = !isOn && t < run.offSince + seconds(plan.minimumOff);
  const wanted = isOn
    ? room.air > setPoint - plan.differential / 2
    : room.air > setPoint + plan.differential / 2;
  const on = wanted && !boots && !rests;
  if (isOn && !on) run.offSince = t;
  run.on[0] = on;
  for (const unit of units) ask(wiring, state, unit, on, t);
}

function scheduled(wiring: Wiring, place: number, plan: ThermostatPlan, t: Instant): number {
  const early = t + plan.earlyMinutes * 60 * SECOND;
  const { inUse } = wiring.rooms[place]!;
  const isNow = [t, early].some((at) => {
    const { hour, day } = localHour(at, wiring.plan.utcOffsetHours);
    return isInUse(inUse, day, hour);
  });
  return isNow ? plan.setPoint : plan.setBack;
}

/** A thermostat fed from the unit forgets with it, and calls only a while after power is back. */
function rebooting(
  state: BuildingState,
  run: ControllerRun,
  units: readonly number[],
  afterPowerReturn: number,
  t: Instant,
): boolean {
  if (afterPowerReturn === 0) return false;
  const isDead = units.every((i) => state.units[i]!.volts < 5);
  if (isDead) run.bootsUntil = t + seconds(afterPowerReturn);
  return run.bootsUntil !== null && t < run.bootsUntil;
}

function decideStages(
  wiring: Wiring,
  state: BuildingState,
  { room: place, units }: ControllerWiring,
  run: ControllerRun,
  plan: LeadLagPlan,
  t: Instant,
): void {
  const room = state.rooms[place]!;
  const setPoint = room.setPoint ?? plan.setPoint;
  const most = state.generator.phase === 'carrying' ? plan.onGenerator : units.length;
  const { day } = localHour(t, wiring.plan.utcOffsetHours);
  const turn = Math.floor(day / plan.rotateDays);
  units.forEach((_, stage) => {
    const middle = setPoint + stage * plan.stage;
    const isOn = run.on[stage] === true;
    const limit = isOn ? middle - plan.differential / 2 : middle + plan.differential / 2;
    const on = stage < most && room.air > limit;
    run.on[stage] = on;
    ask(wiring, state, units[(stage + turn) % units.length]!, on, t);
  });
}

/** A call changes within two seconds of the decision: each thermostat looks in its own rhythm. */
function ask(wiring: Wiring, state: BuildingState, place: number, on: boolean, t: Instant): void {
  const unit = state.units[place]!;
  if (unit.wantsNext === on) return;
  unit.wantsNext = on;
  const later = noise(wiring.plan.seed, wiring.units[place]!.key, t / SECOND);
  unit.wantsAt = t + 1000 * Math.round(1 + 1999 * later);
}
