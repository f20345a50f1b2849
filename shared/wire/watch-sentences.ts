import { inSeconds, type Instant } from '../base/instant.ts';
import { causeText } from './cause-words.ts';
import { clockLength, lengthBetween, spokenLength } from './durations.ts';
import { EVENT_WORDS } from './event-sentences.ts';
import { readInstant } from './standing-wire.ts';
import type { WatchAnswer } from './visit-answer.ts';

/**
 * "May I leave?" and what the watched repair shows, in words (handbook 8, "After the repair"). `clock` is the site's wall
 * time, with its day where that isn't today; time is an argument.
 */
export interface Leaving {
  readonly may: 'yes' | 'not-yet' | 'no' | 'not-known';
  readonly says: string;
}

type Clock = (at: Instant) => string;

/** `next`: what the unit does next, counted down: `may start in 1:40`; null: nothing that is known. */
export function mayLeave(
  watch: WatchAnswer,
  at: { now: Instant; clock: Clock; next: string | null },
): Leaving {
  const { now, clock, next } = at;
  switch (watch.kind) {
    case 'standing':
      return { may: 'not-yet', says: 'Not yet: it still stands.' };
    case 'not-known':
      return { may: 'not-known', says: 'Can’t be told: nothing is known of the unit now.' };
    case 'waiting':
      return { may: 'not-yet', says: `Not yet: ${waitingText(watch, next)}` };
    case 'running':
      return { may: 'not-yet', says: `Not yet: ${runningText(watch, now, clock)}` };
    case 'stopped':
      return {
        may: 'not-yet',
        says: `Not yet: it stopped by itself again at ${clock(readInstant(watch.at!.latest))}, ${whatStopped(watch)}.`,
      };
    case 'holding':
      return { may: 'yes', says: `Yes: ${holdingText(watch, clock)}` };
    case 'proven':
      return {
        may: 'yes',
        says: 'Yes: proven. It ran a day and ten calls, one in weather like that of the fault.',
      };
    case 'failed':
      return { may: 'no', says: failedText(watch, clock) };
  }
}

function waitingText({ ranSeconds, needSeconds }: WatchAnswer, next: string | null): string {
  const need = clockLength(needSeconds ?? 0);
  if (ranSeconds)
    return `its last run ended after ${clockLength(ranSeconds[0])} with nothing wrong; it must run ${need} in one go.`;
  return `it hasn’t run since${next ? `; it ${next}` : ''}. It must run ${need} in one go.`;
}

function runningText(watch: WatchAnswer, now: Instant, clock: Clock): string {
  const since = readInstant(watch.at!.latest);
  const last = watch.failedRunSeconds
    ? ` it stopped after ${lengthBetween(watch.failedRunSeconds, clockLength)} last time;`
    : '';
  return `running ${clockLength(inSeconds(now - since))};${last} look again at ${clock(readInstant(watch.lookAt!))}.`;
}

const whatStopped = ({ by, cause }: WatchAnswer): string => {
  const term = by === null ? 'stopped' : EVENT_WORDS[by].term.toLowerCase().replace(/:.*$/, '');
  return cause === null ? term : `${term}, ${causeText(cause, 'certain')}`;
};

function holdingText(watch: WatchAnswer, clock: Clock): string {
  const ran = `it has run ${clockLength(watch.ranSeconds?.[0] ?? 0)} without a stop`;
  const { until, missing, isOver } = watch;
  if (isOver) return `${ran}. It was watched for a week and held; it wasn’t proven: ${missingText(watch)}.`;
  if (until === null)
    return `${ran}: holding. Write down what you found, and close it: then it is watched for a day.`;
  const left = missing && missing.seconds === 0 ? `; for “proven” ${missingText(watch)}` : '';
  return `${ran}: holding. We watch until ${clock(readInstant(until))}${left}.`;
}

/** `4 calls and weather like that of the fault are missing` */
function missingText({ missing }: WatchAnswer): string {
  if (!missing) return '';
  const parts = [
    ...(missing.seconds > 0 ? [spokenLength(missing.seconds)] : []),
    ...(missing.calls > 0 ? [`${missing.calls} ${missing.calls === 1 ? 'call' : 'calls'}`] : []),
    ...(missing.weather === 'not-seen' ? ['weather like that of the fault'] : []),
    ...(missing.weather === 'not-measured' ? ['a temperature outdoors'] : []),
  ];
  return `${parts.join(' and ')} ${parts.length > 1 || missing.calls > 1 ? 'are' : 'is'} missing`;
}

function failedText(watch: WatchAnswer, clock: Clock): string {
  const at = clock(readInstant(watch.at!.latest));
  return watch.isSure
    ? `No: the repair didn’t hold. The same cause again at ${at}.`
    : `No: the repair may not have held. It stopped again at ${at}, perhaps for the same cause.`;
}

/** The verdict in a word, for a list. */
export const VERDICTS: Record<WatchAnswer['kind'], string> = {
  standing: 'still stands',
  'not-known': 'not known',
  waiting: 'hasn’t run long enough',
  running: 'being watched',
  stopped: 'stopped again for another reason',
  holding: 'holding',
  proven: 'proven',
  failed: 'failed',
};

export const HOLDING_CAUTION = 'Holding doesn’t prove that the unit is safe.';
