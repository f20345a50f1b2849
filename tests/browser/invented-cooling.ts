import type { CoolingAnswer, SpaceCooling, UnitCycling } from '../../shared/wire/cooling-answer.ts';
import { formatInstant, seconds } from '../../shared/base/instant.ts';
import { SHELTER } from '../fixtures/cooled-shelter.ts';
import { NOW } from './invented.ts';

/** How an invented site is cooled: a shelter that has lost its cooling, and rooms that haven't. */
const at = (after: number): string => formatInstant(NOW + seconds(after));

const SPACE: SpaceCooling = {
  ...SHELTER,
  without: { soonest: at(4200), latest: at(6000), by: 'two-masses' },
  risePerHour: 0.3,
};

const spread = (scale: number): UnitCycling['on'] => ({
  count: 54,
  least: [scale * 200, scale * 210],
  lowerQuarter: [scale * 380, scale * 390],
  median: [scale * 480, scale * 490],
  upperQuarter: [scale * 700, scale * 710],
  most: [scale * 1500, scale * 1510],
  mean: [scale * 560, scale * 570],
});

const unit = (id: string): UnitCycling => ({
  id,
  from: at(-86_400),
  to: at(0),
  knownSeconds: 82_800,
  unknownSeconds: 3600,
  runFraction: [0.36, 0.38],
  starts: 55,
  startsPerHour: 2.3,
  mostInAnHour: 4,
  on: spread(1),
  off: spread(1.7),
  cut: 4,
  curve: [2.4, 2.6],
  hours: Array.from({ length: 22 }, (_, i) => ({
    from: at(-3600 * (22 - i)),
    fraction: [0.1 + 0.035 * i, 0.12 + 0.035 * i] as const,
    starts: Math.max(1, Math.round(9.6 * (0.1 + 0.035 * i) * (0.9 - 0.035 * i))),
  })),
});

export const cooling = (url: URL): CoolingAnswer => {
  const shelter = url.pathname.includes('pine-ridge');
  const room = (n: number): SpaceCooling => ({
    ...SPACE,
    id: `room-${n}`,
    name: `Room ${n}`,
    units: [`unit-${n}`],
    limit: 30,
    fit: null,
    offPeriods: 1,
    without: n === 3 ? null : { soonest: at(2400), latest: null, by: 'linear-bound' },
    measured: n !== 3,
  });
  return {
    site: shelter ? 'pine-ridge' : 'harrow-lane',
    serverTime: at(0),
    outdoors: 37,
    comparison: shelter
      ? { known: 1, withoutStop: 0, faster: [] }
      : { known: 4, withoutStop: 2, faster: [{ id: 'room-2', by: 1.1 }] },
    spaces: shelter
      ? [{ ...SPACE, unable: ['unit-1', 'unit-2'], forecast: { soonest: at(1200), latest: at(2400) } }]
      : [1, 2, 3, 4].map(room),
    units: ['unit-1', 'unit-2'].map(unit),
  };
};
