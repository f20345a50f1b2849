import { MILLISECOND, seconds, type Instant } from '../base/instant.ts';
import type { BuildingState, GatewayRun } from './building-state.ts';
import { noise } from './noise.ts';
import { readingOf, type Reading } from './readings.ts';
import type { BuildingOutput } from './truth.ts';
import { nextOf, type GatewayWiring, type Wiring } from './wiring.ts';

/**
 * Gateways: they look at their contacts and meters in a rhythm of their own and tell what has changed, poll the rest,
 * and show that they live. A pulse between two looks is never seen.
 */
export interface Gateways {
  begin(t: Instant): GatewayRun[];
  /** when one of them does something next */
  nextAt(state: BuildingState): Instant;
  /** something may have changed, or is due, at `t` */
  attend(state: BuildingState, t: Instant, out: BuildingOutput): void;
}

export function gateways(wiring: Wiring): Gateways {
  const readings = wiring.points.map((point) => readingOf(wiring, point));
  return {
    begin: (t) => wiring.gateways.map((gateway) => beginGateway(gateway, t)),
    nextAt: (state) => Math.min(...state.gateways.map(nextOfGateway)),
    attend: (state, t, out) => {
      wiring.gateways.forEach((gateway, i) => {
        const run = state.gateways[i]!;
        followPower(gateway, run, state, t);
        const visit: Visit = { wiring, readings, gateway, run, state, t };
        if (run.down) idle(visit);
        else attendGateway(visit, out);
      });
    },
  };
}

interface Visit {
  readonly wiring: Wiring;
  readonly readings: readonly Reading[];
  readonly gateway: GatewayWiring;
  readonly run: GatewayRun;
  readonly state: BuildingState;
  readonly t: Instant;
}

const beginGateway = (gateway: GatewayWiring, t: Instant): GatewayRun => ({
  scanAt: null,
  polls: gateway.polls.map(({ seconds: period }) => nextOf(seconds(period), pollPhase(gateway, period), t)),
  heartbeatAt: gateway.heartbeatSeconds === null ? null : heartbeatAfter(gateway, t),
  down: false,
  bootsAt: null,
  heldUntil: null,
});

/** Polls of 5 s and more go with the grid, so that time needn't be cut finer for them; quicker ones have their own phase. */
const pollPhase = (gateway: GatewayWiring, period: number): number =>
  period >= 5 ? 0 : MILLISECOND * Math.floor(noise(gateway.key, 3, period) * period * 1000);

const heartbeatAfter = ({ heartbeatSeconds }: GatewayWiring, t: Instant): Instant =>
  nextOf(seconds(heartbeatSeconds!), 0, t);

function nextOfGateway(run: GatewayRun): Instant {
  let next = Infinity;
  for (const poll of run.polls) if (poll < next) next = poll;
  if (run.scanAt !== null && run.scanAt < next) next = run.scanAt;
  if (run.heartbeatAt !== null && run.heartbeatAt < next) next = run.heartbeatAt;
  if (run.bootsAt !== null && run.bootsAt < next) next = run.bootsAt;
  return next;
}

function followPower(gateway: GatewayWiring, run: GatewayRun, state: BuildingState, t: Instant): void {
  if (gateway.fedFrom !== null) {
    const isDead = state.panels[gateway.fedFrom]!.volts === 0;
    if (isDead) {
      run.down = true;
      run.bootsAt = null;
    } else if (run.down && run.bootsAt === null) run.bootsAt = t + seconds(gateway.bootSeconds);
  }
  if (run.bootsAt === null || run.bootsAt > t) return;
  run.bootsAt = null;
  run.down = false;
  for (const i of gateway.onChange) state.told[i] = null;
}

/** A gateway that is down tells nothing; its rhythm goes on. */
function idle({ gateway, run, t }: Visit): void {
  run.scanAt = null;
  gateway.polls.forEach(({ seconds: period }, k) => {
    if (run.polls[k]! <= t) run.polls[k] = nextOf(seconds(period), pollPhase(gateway, period), t);
  });
  if (run.heartbeatAt !== null && run.heartbeatAt <= t) run.heartbeatAt = heartbeatAfter(gateway, t);
}

function attendGateway(visit: Visit, out: BuildingOutput): void {
  const { gateway, run, t } = visit;
  const moved = scanned(visit);
  const due = polled(visit);
  if (moved.length + due.length > 0) tell(visit, [...moved, ...due], out);
  if (run.heartbeatAt === null || run.heartbeatAt > t) return;
  run.heartbeatAt = heartbeatAfter(gateway, t);
  out.entry({ gateway: gateway.id, device: gateway.id, t, signals: {}, deliveredAt: deliveredAt(run, t) });
}

const NONE: readonly number[] = [];

/** What has moved, once it looks; a move makes it look at its next turn. */
function scanned(visit: Visit): readonly number[] {
  const { gateway, run, t } = visit;
  if (run.scanAt !== null && run.scanAt > t) return NONE;
  if (run.scanAt === null) {
    if (gateway.onChange.some((i) => hasMoved(visit, i))) run.scanAt = scanAfter(gateway, t);
    return NONE;
  }
  run.scanAt = null;
  return gateway.onChange.filter((i) => hasMoved(visit, i));
}

function polled({ gateway, run, t }: Visit): readonly number[] {
  let due = NONE;
  gateway.polls.forEach(({ seconds: period, points }, k) => {
    if (run.polls[k]! > t) return;
    run.polls[k] = nextOf(seconds(period), pollPhase(gateway, period), t);
    due = [...due, ...points];
  });
  return due;
}

/** Contacts and meters are looked at every so often, in whole milliseconds. */
function scanAfter(gateway: GatewayWiring, t: Instant): Instant {
  const period = seconds(gateway.scanSeconds);
  const phase = MILLISECOND * Math.floor(noise(gateway.key, 7, 1) * gateway.scanSeconds * 1000);
  return nextOf(period, phase, t);
}

/** Differs from what was told, an analog by more than its deadband. */
function hasMoved({ wiring, readings, state }: Visit, i: number): boolean {
  const last = state.told[i];
  const now = readings[i]!(state);
  if (last === null || last === undefined) return !state.silent[i];
  return now !== last && Math.abs(now - last) > wiring.points[i]!.deadband && !state.silent[i];
}

const deliveredAt = (run: GatewayRun, t: Instant): Instant => Math.max(t, run.heldUntil ?? t);

/** What is told at one instant, by device. */
function tell(
  { wiring, readings, state, gateway, run, t }: Visit,
  points: readonly number[],
  out: BuildingOutput,
): void {
  const devices = new Map<string, Record<string, number>>();
  for (const i of points) {
    if (state.silent[i]) continue;
    const { device, signal } = wiring.points[i]!;
    const value = readings[i]!(state);
    state.told[i] = value;
    const signals = devices.get(device) ?? {};
    signals[signal] = value;
    devices.set(device, signals);
  }
  for (const [device, signals] of devices)
    out.entry({ gateway: gateway.id, device, t, signals, deliveredAt: deliveredAt(run, t) });
}
