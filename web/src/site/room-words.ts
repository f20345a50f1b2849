import type { SpaceStanding } from '../../../shared/inference/standing.ts';

/** `24.6 °C, limit 30`; null where the room's temperature isn't measured. */
export function roomTemperature({ temperature, temperatureLimit }: SpaceStanding): string | null {
  if (temperature === null || temperature.value === null) return null;
  const limit = temperatureLimit === null ? '' : `, limit ${temperatureLimit}`;
  return `${temperature.value.toFixed(1)} °C${limit}`;
}
