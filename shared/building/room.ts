import type { RoomPlan } from './plan.ts';

/** A room's air and what stands behind it, °C. */
export interface RoomState {
  air: number;
  mass: number;
}

/**
 * One step of the two-mass room (handbook 6): the air takes sun, heat and cooling, and trades with outdoors and with
 * the mass. `gain` W into the air, cooling negative. Steps are seconds against time constants of minutes.
 */
export function warmRoom(
  room: RoomState,
  plan: RoomPlan,
  { seconds, outdoors, gain }: { seconds: number; outdoors: number; gain: number },
): void {
  const toMass = plan.coupling * (room.air - room.mass);
  const toOutdoors = plan.toOutdoors * (room.air - outdoors);
  room.air += (seconds * (gain - toMass - toOutdoors)) / plan.air;
  room.mass += (seconds * toMass) / plan.mass;
}
