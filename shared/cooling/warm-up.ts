/**
 * How long until a space without cooling is too hot (handbook 6)? One mass: Tinf = Tout + Q/UA, τ = C/UA,
 * t = −τ ln((Tinf − Tlim)/(Tinf − T0)), never where the limit isn't below Tinf. Two masses, the air and what stands behind
 * it: one mass is optimistic. Temperatures °C, heat W, conductance W/K, capacity J/K; answers seconds, null for never.
 */
export interface WarmUp {
  readonly start: number;
  readonly limit: number;
  readonly outdoors: number;
  /** heat set free inside, W */
  readonly heat: number;
  /** to outdoors, W/K */
  readonly conductance: number;
}

export function oneMassSeconds(space: WarmUp & { readonly capacity: number }): number | null {
  if (space.start >= space.limit) return 0;
  const settles = space.outdoors + space.heat / space.conductance;
  if (space.limit >= settles) return null;
  const tau = space.capacity / space.conductance;
  return -tau * Math.log((settles - space.limit) / (settles - space.start));
}

export interface TwoMasses {
  /** J/K of the air */
  readonly air: number;
  /** J/K of walls, racks, furniture */
  readonly mass: number;
  /** W/K between the two */
  readonly coupling: number;
}

/** Both masses begin at `start`. Solved exactly, by the two decaying modes of the linear pair. */
export function twoMassSeconds(space: WarmUp & TwoMasses): number | null {
  if (space.start >= space.limit) return 0;
  const settles = space.outdoors + space.heat / space.conductance;
  if (space.limit >= settles) return null;
  const below = airBelow(space, settles - space.start);
  const wanted = settles - space.limit;
  let high = (space.air + space.mass) / space.conductance;
  while (below(high) > wanted) high *= 2;
  let low = 0;
  for (let i = 0; i < 100; i++) {
    const middle = (low + high) / 2;
    if (below(middle) > wanted) low = middle;
    else high = middle;
  }
  return high;
}

/** How far below its end the air still is, by time, K. */
function airBelow(
  { air, mass, coupling, conductance }: WarmUp & TwoMasses,
  atFirst: number,
): (t: number) => number {
  const a = (coupling + conductance) / air;
  const b = coupling / air;
  const c = coupling / mass;
  const middle = (a + c) / 2;
  const root = Math.sqrt(middle * middle - (a * c - b * c));
  const slow = middle - root;
  const fast = middle + root;
  // at first both masses lie `atFirst` below, so the air rises at (a − b) of it a second
  const share = (fast - (a - b)) / (fast - slow);
  return (t) => atFirst * (share * Math.exp(-slow * t) + (1 - share) * Math.exp(-fast * t));
}

/**
 * While there is too little to fit: at the fastest rise seen (K/s) the limit comes no sooner than this. The air never
 * warms faster later, for what drives it shrinks as it warms.
 */
export const linearSeconds = (start: number, limit: number, fastestRise: number): number | null =>
  start >= limit ? 0 : fastestRise > 0 ? (limit - start) / fastestRise : null;
