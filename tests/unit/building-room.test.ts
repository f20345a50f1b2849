import { describe, expect, it } from 'vitest';
import { warmRoom } from '../../shared/building/room.ts';

/** Minutes until the air reaches the limit, in steps as the simulated building takes them. */
function minutesTo(
  limit: number,
  plan: Parameters<typeof warmRoom>[1],
  gain: number,
  outdoors: number,
): number {
  const room = { air: 24, mass: 24 };
  let passed = 0;
  for (; room.air < limit && passed < 1e6; passed++) warmRoom(room, plan, { seconds: 1, outdoors, gain });
  return passed / 60;
}

const still = { sun: 0, equipment: 0, inUse: 0 };

describe('a room that warms up, check values of handbook 9 [computed]', () => {
  it('two masses: 0.2 + 1.0 MJ/K, coupling 400 W/K, UA 40 W/K, 4 kW, from 24 to 40 °C at 35 °C outdoors in 46.48 min', () => {
    const plan = { air: 0.2e6, mass: 1.0e6, coupling: 400, toOutdoors: 40, ...still };
    expect(minutesTo(40, plan, 4000, 35)).toBeCloseTo(46.48, 1);
  });

  it('one mass of 1.2 MJ/K takes 77.83 min', () => {
    const plan = { air: 1.2e6, mass: 1, coupling: 0, toOutdoors: 40, ...still };
    expect(minutesTo(40, plan, 4000, 35)).toBeCloseTo(77.83, 1);
  });
});
