import { startsPerHour } from '../../../shared/cooling/cycling.ts';
import type { UnitCycling } from '../../../shared/wire/cooling-answer.ts';

/** A unit's hours beside the cycling curve, to scale: run fraction across, starts an hour up. */
export interface CurveScale {
  readonly width: number;
  readonly height: number;
  /** starts an hour at the top */
  readonly top: number;
  readonly x: (fraction: number) => number;
  readonly y: (starts: number) => number;
}

export function curveScale({ hours, curve }: UnitCycling, width: number, height: number): CurveScale {
  const most = Math.max(2, curve?.[1] ?? 0, ...hours.map(({ starts }) => starts));
  const top = Math.ceil(most + 0.5);
  return {
    width,
    height,
    top,
    x: (fraction) => fraction * width,
    y: (starts) => height - (starts / top) * height,
  };
}

/** The curve of so many starts an hour at half load. */
export function curvePath(most: number, { x, y }: CurveScale): string {
  const places = Array.from({ length: 41 }, (_, i) => i / 40);
  return places
    .map((share, i) => `${i ? 'L' : 'M'}${x(share).toFixed(1)} ${y(startsPerHour(most, share)).toFixed(1)}`)
    .join('');
}
