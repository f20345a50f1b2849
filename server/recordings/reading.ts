import { parseInstant, SECOND, seconds, type Instant } from '../../shared/base/instant.ts';
import { instantOfWall } from '../../shared/people/wall-time.ts';
import type { Recording } from '../../shared/recorder/recording.ts';
import type { VoltageProposal } from '../../shared/recorder/propose-voltages.ts';
import type { RecordingReading, RecordingVoltage } from '../../shared/wire/recording-wire.ts';

/** How a recorder's file is read: what was asked, and where nothing was, what the file itself says. */
export interface Reading {
  readonly clock: 'site' | 'utc' | 'file' | 'offset';
  readonly offsetMinutes?: number;
  /** by that clock; null: neither the file nor anybody says */
  readonly start: string | null;
  readonly voltages: readonly RecordingVoltage[];
}

export function readingOf(
  recording: Recording,
  asked: RecordingReading,
  proposals: readonly VoltageProposal[],
): Reading {
  const clock = asked.clock ?? (recording.utcOffsetSeconds === null ? 'site' : 'file');
  const own = recording.start === null ? null : localText(recording.start.micros);
  return {
    clock,
    ...(asked.offsetMinutes === undefined ? {} : { offsetMinutes: asked.offsetMinutes }),
    start: asked.start ?? own,
    voltages:
      asked.voltages ??
      proposals.map(({ signal, channel, minus, scale }) => ({ signal, channel, minus, scale })),
  };
}

const localText = (micros: number): string =>
  `${new Date(Math.floor(micros / 1000)).toISOString().slice(0, 19)}.${String(((micros % SECOND) + SECOND) % SECOND).padStart(6, '0')}`;

/** The instant of the first sample. A wall time that occurs twice is its first occurrence. null: it isn't known. */
export function startOf(recording: Recording, reading: Reading, zone: string): Instant | null {
  const local = reading.start === null ? null : parseInstant(`${reading.start}Z`);
  if (local === null) return null;
  if (reading.clock === 'utc') return local;
  if (reading.clock === 'offset') return local - seconds(60 * (reading.offsetMinutes ?? 0));
  if (reading.clock === 'file') {
    const { utcOffsetSeconds } = recording;
    return utcOffsetSeconds === null ? null : local - seconds(utcOffsetSeconds);
  }
  const whole = Math.floor(local / SECOND);
  const date = new Date(whole * 1000);
  const wall = {
    year: date.getUTCFullYear(),
    month: date.getUTCMonth() + 1,
    day: date.getUTCDate(),
    hour: date.getUTCHours(),
    minute: date.getUTCMinutes(),
    second: date.getUTCSeconds(),
  };
  return instantOfWall(wall, zone) + (local - whole * SECOND);
}
