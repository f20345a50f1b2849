import { SECOND, type Instant } from '../base/instant.ts';

/**
 * Just enough of a refrigerant circuit to make the switches trip for the reasons that they trip for: saturated
 * condensing and evaporating temperatures that settle toward what the air allows. All figures from memory.
 */
export interface RefrigerantState {
  /** saturated condensing temperature, °C: stands for the head pressure */
  head: number;
  /** saturated evaporating temperature, °C: stands for the suction pressure */
  suction: number;
  headOpen: boolean;
  suctionOpen: boolean;
  /** when the switches will move, if nothing changes */
  headMovesAt: Instant | null;
  suctionMovesAt: Instant | null;
}

export interface RefrigerantConditions {
  readonly runs: boolean;
  readonly outdoors: number;
  readonly room: number;
  /** shares: of the outdoor coil blocked, of the charge lost, of the indoor airflow lost */
  readonly blocked: number;
  readonly chargeLost: number;
  readonly airflowLost: number;
}

const HEAD = { opensAbove: 66, closesBelow: 48, running: 60, resting: 90, rise: 17 };
const SUCTION = { opensBelow: -5, closesAbove: 4, running: 45, resting: 60, fall: 18 };

export const restingRefrigerant = (outdoors: number, room: number): RefrigerantState => ({
  head: outdoors,
  suction: room,
  headOpen: false,
  suctionOpen: false,
  headMovesAt: null,
  suctionMovesAt: null,
});

const headTarget = ({ runs, outdoors, room, blocked }: RefrigerantConditions): number =>
  runs ? outdoors + (HEAD.rise + 0.5 * (room - 24)) / Math.max(0.05, 1 - blocked) : outdoors;

function suctionTarget(now: RefrigerantConditions): number {
  if (!now.runs) return now.room;
  const lowAmbient = Math.max(0, 8 - now.outdoors);
  return now.room - SUCTION.fall - 25 * (now.chargeLost + now.airflowLost) - 1.5 * lowAmbient;
}

/** Moves the temperatures on, under the conditions that held. */
export function settleRefrigerant(
  state: RefrigerantState,
  held: RefrigerantConditions,
  seconds: number,
): void {
  const head = headTarget(held);
  const suction = suctionTarget(held);
  const times = timesOf(held.runs);
  state.head = head + (state.head - head) * Math.exp(-seconds / times.head);
  state.suction = suction + (state.suction - suction) * Math.exp(-seconds / times.suction);
}

const timesOf = (runs: boolean): { head: number; suction: number } =>
  runs ? { head: HEAD.running, suction: SUCTION.running } : { head: HEAD.resting, suction: SUCTION.resting };

/** When the switches will move under these conditions. */
export function foreseeSwitches(state: RefrigerantState, now: RefrigerantConditions, t: Instant): void {
  const times = timesOf(now.runs);
  const headLimit = state.headOpen ? HEAD.closesBelow : HEAD.opensAbove;
  const suctionLimit = state.suctionOpen ? SUCTION.closesAbove : SUCTION.opensBelow;
  state.headMovesAt = crossing(
    { from: state.head, to: headTarget(now), limit: headLimit, time: times.head },
    t,
  );
  state.suctionMovesAt = crossing(
    { from: state.suction, to: suctionTarget(now), limit: suctionLimit, time: times.suction },
    t,
  );
}

/** When an exponential approach passes a limit that lies between; null where it doesn't. */
function crossing(
  { from, to, limit, time }: { from: number; to: number; limit: number; time: number },
  t: Instant,
): Instant | null {
  const share = (from - to) / (limit - to);
  if (!(share >= 1) || from === to) return null;
  const seconds = time * Math.log(share);
  return seconds > 20 ? null : t + Math.max(1, Math.round(seconds * SECOND));
}

/** Moves the switches that are due; answers whether one moved. */
export function moveSwitches(state: RefrigerantState, t: Instant): boolean {
  const head = state.headMovesAt !== null && state.headMovesAt <= t;
  const suction = state.suctionMovesAt !== null && state.suctionMovesAt <= t;
  if (head) state.headOpen = !state.headOpen;
  if (suction) state.suctionOpen = !state.suctionOpen;
  return head || suction;
}
