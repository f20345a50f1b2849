import type { Faults } from './file-fault.ts';
import type { LocalStamp } from './recording.ts';

/** Before this year nobody had such a recorder; a clock that was never set says 1970 or 1980. */
const FIRST_YEAR = Date.UTC(1981, 0, 1) * 1000;

/** When the first sample was taken, by the file's own clock; null: not told, or no such time. */
export function soundStart(stamp: LocalStamp | null, faults: Faults): LocalStamp | null {
  if (stamp !== null && stamp.micros >= FIRST_YEAR) return { micros: stamp.micros };
  faults.add(
    'start-time',
    stamp === null
      ? 'The file doesn’t say when it begins: give the time of its first sample.'
      : `The file says that it begins on ${dayOf(stamp)}: its clock was never set. Give the time of its first sample.`,
  );
  return null;
}

/** A trigger lies in its own recording, give or take its length. */
export function soundTrigger(
  stamp: LocalStamp | null,
  start: LocalStamp | null,
  length: number,
  faults: Faults,
): LocalStamp | null {
  const slack = Math.max(length, 1e6);
  const after = stamp === null || start === null ? NaN : stamp.micros - start.micros;
  if (stamp !== null && after >= -slack && after <= length + slack) return { micros: stamp.micros };
  faults.add(
    'trigger-time',
    stamp === null
      ? 'The file doesn’t say when it was triggered; times count from its first sample.'
      : `The trigger’s time, ${dayOf(stamp)}, lies outside the recording; it isn’t used. Times count from the first sample.`,
  );
  return null;
}

const dayOf = ({ micros }: LocalStamp): string =>
  new Date(Math.floor(micros / 1000)).toISOString().slice(0, 19).replace('T', ' ');
