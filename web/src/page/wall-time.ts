import { SECOND, type Instant } from '../../../shared/base/instant.ts';
import type { Zone } from './zone.ts';

/** Between instants and the wall time that a date field holds (`2026-03-03T14:07:32`, no zone of its own). */
export const wallText = (at: Instant, zone: Zone): string =>
  new Date((Math.floor(at / SECOND) + zone.offset(at)) * 1000).toISOString().slice(0, 19);

/** A time that occurs twice is its first; one that doesn't occur uses the offset before the gap (RFC 5545 §3.3.5). */
export function instantOfWall(text: string, zone: Zone): Instant | null {
  const wall = Date.parse(`${text}Z`) / 1000;
  if (!Number.isFinite(wall)) return null;
  const early = zone.offset((wall - 86_400) * SECOND);
  const late = zone.offset((wall + 86_400) * SECOND);
  const fits = [wall - early, wall - late].filter((utc) => utc + zone.offset(utc * SECOND) === wall);
  return (fits.length > 0 ? Math.min(...fits) : wall - early) * SECOND;
}
