import type { SpaceStanding } from '../../../shared/inference/standing.ts';
import { spaceText } from '../../../shared/wire/board-answer.ts';

/** `24.6 °C, limit 30`; null where the room's temperature isn't measured. */
export function roomTemperature({ temperature, temperatureLimit }: SpaceStanding): string | null {
  if (temperature === null || temperature.value === null) return null;
  const limit = temperatureLimit === null ? '' : `, limit ${temperatureLimit}`;
  return `${temperature.value.toFixed(1)} °C${limit}`;
}

/** What a room of one unit adds to the unit's line: its cooling where that isn't plain, and its temperature. */
export const roomNote = (space: SpaceStanding): string | null =>
  [space.cooling === 'all' ? null : spaceText(space), roomTemperature(space)].filter(Boolean).join(' · ') ||
  null;
