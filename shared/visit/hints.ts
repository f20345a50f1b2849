import { inSeconds, seconds, type Instant } from '../base/instant.ts';
import { elapsed, type Bounds } from '../base/span.ts';
import type { EventCause, EventDraft } from '../inference/event.ts';
import type { Check, CheckId } from './checks.ts';

/**
 * What would tell the candidates apart from the data so far: handbook 8, "Hints from our points". A hint speaks for a check
 * or against it, with what was seen; it takes no candidate off the list. Handbook 8 names one change of the order: in cold
 * weather low ambient comes first.
 */
export interface Bearing {
  readonly bears: 'for' | 'against';
  readonly because: string;
}

export interface CheckSeen extends Check {
  readonly seen: Bearing | null;
}

/** One run of the unit as far as the hints ask. */
export interface SeenRun {
  readonly start: Instant;
  readonly end: Instant | null;
  /** how long it ran, [least, most]; null: it runs on, or its end isn't known */
  readonly ranSeconds: Bounds | null;
  readonly cause: EventCause | null;
  /** °C when it stopped; null: not measured */
  readonly outdoors: number | null;
}

export interface Seen {
  /** of the last days, oldest first */
  readonly runs: readonly SeenRun[];
  readonly bypassSeconds: number;
  /** is an outdoor temperature wired at all */
  readonly outdoorsMeasured: boolean;
}

/** `late in a long run`, `within seconds of a start`, `just past the bypass`, `a hot day`, `hours off`: from memory, but for 10 °C. */
const HINT_SETTINGS = {
  longRunSeconds: 15 * 60,
  atStartSeconds: 60,
  pastBypassSeconds: 60,
  hotDay: 32,
  hoursOffSeconds: 2 * 3600,
  /** handbook 8: "only below about 10 °C outdoors → low ambient" */
  lowAmbient: 10,
} as const;

/** A unit's runs from its events, with the temperature outdoors at their ends. */
export const runsOf = (
  events: readonly EventDraft[],
  outdoorsAt: (at: Instant) => number | null,
): SeenRun[] =>
  events
    .filter(({ kind }) => kind === 'compressor-run')
    .toSorted((a, b) => a.start.latest - b.start.latest)
    .map(({ start, end, cause }) => ({
      start: start.latest,
      end: end?.latest ?? null,
      ranSeconds: end && elapsed(start, end),
      cause,
      outdoors: end && outdoorsAt(end.latest),
    }));

type Hints = Partial<Record<CheckId, Bearing>>;
const speaksFor = (because: string): Bearing => ({ bears: 'for', because });
const speaksAgainst = (because: string): Bearing => ({ bears: 'against', because });

/** The checks in their order, each with what was seen that bears on it. */
export function weighed(checks: readonly Check[], cause: EventCause | null, seen: Seen): CheckSeen[] {
  const hints = cause === 'high-pressure' ? highHints(seen) : cause === 'low-pressure' ? lowHints(seen) : {};
  const all = checks.map((one): CheckSeen => ({ ...one, seen: hints[one.id] ?? null }));
  const coldFirst = hints.cold?.bears === 'for';
  return coldFirst ? all.toSorted((a, b) => Number(b.id === 'cold') - Number(a.id === 'cold')) : all;
}

function highHints(seen: Seen): Hints {
  const stop = newestStop(seen, 'high-pressure');
  if (stop?.ranSeconds == null) return {};
  const [least, most] = stop.ranSeconds;
  const hints: Hints = {};
  const { outdoors } = stop;
  if (most <= HINT_SETTINGS.atStartSeconds) {
    const because = `it stopped ${length(most)} after its start: a fan that doesn’t turn, or a valve that is shut`;
    hints['outdoor-fan'] = speaksFor(because);
    hints.restriction = speaksFor(because);
    hints['hot-day'] = speaksAgainst(`it stopped ${length(most)} after its start`);
  } else if (least >= HINT_SETTINGS.longRunSeconds && outdoors !== null && outdoors >= HINT_SETTINGS.hotDay) {
    const because = `it stopped after ${length(least)} of running at ${degrees(outdoors)} outdoors: the condenser side`;
    hints['outdoor-coil'] = speaksFor(because);
    hints['hot-day'] = speaksFor(because);
  }
  if (outdoors !== null && outdoors < HINT_SETTINGS.hotDay)
    hints['hot-day'] ??= speaksAgainst(`it was ${degrees(outdoors)} outdoors`);
  return hints;
}

function lowHints(seen: Seen): Hints {
  const stops = stopsOf(seen, 'low-pressure');
  const newest = stops.at(-1);
  if (!newest) return {};
  const hints: Hints = {};
  const past = justPastBypass(seen);
  if (past !== null) {
    const because = `its last ${past} runs all stopped just past the bypass: charge, or no indoor airflow`;
    for (const id of ['charge', 'indoor-fan', 'filter'] as const) hints[id] = speaksFor(because);
  }
  if (isWellAfterRest(seen)) {
    const because = 'it stopped after long running and ran well again after hours off: ice or airflow';
    hints['indoor-coil'] = speaksFor(because);
    hints.filter ??= speaksFor(because);
  }
  const known = stops.flatMap(({ outdoors }) => (outdoors === null ? [] : [outdoors]));
  if (known.length === stops.length) {
    const warmest = Math.max(...known);
    hints.cold =
      warmest < HINT_SETTINGS.lowAmbient
        ? speaksFor(
            `it stopped only below ${HINT_SETTINGS.lowAmbient} °C outdoors (${degrees(warmest)} at most)`,
          )
        : speaksAgainst(`it stopped at ${degrees(warmest)} outdoors as well`);
  }
  return hints;
}

const stopsOf = ({ runs }: Seen, cause: EventCause): SeenRun[] => runs.filter((run) => run.cause === cause);
const newestStop = (seen: Seen, cause: EventCause): SeenRun | null => stopsOf(seen, cause).at(-1) ?? null;

/** How many of the newest runs all stopped just past the bypass; null: fewer than two, or not all. */
function justPastBypass({ runs, bypassSeconds }: Seen): number | null {
  const over = runs.filter(({ end }) => end !== null).slice(-3);
  if (over.length < 2) return null;
  const most = bypassSeconds + HINT_SETTINGS.pastBypassSeconds;
  return over.every(
    ({ cause, ranSeconds }) => cause === 'low-pressure' && ranSeconds !== null && ranSeconds[0] <= most,
  )
    ? over.length
    : null;
}

/** Stopped by low pressure after a long run, and the first run after hours of rest was long again. */
function isWellAfterRest({ runs }: Seen): boolean {
  return runs.some((run, n) => {
    const before = runs[n - 1];
    const isLong = (one: SeenRun) =>
      one.ranSeconds !== null && one.ranSeconds[0] >= HINT_SETTINGS.longRunSeconds;
    return (
      before?.end != null &&
      before.cause === 'low-pressure' &&
      isLong(before) &&
      run.start - before.end >= seconds(HINT_SETTINGS.hoursOffSeconds) &&
      isLong(run)
    );
  });
}

/** What isn't known and would tell more. */
export function wouldTell(cause: EventCause | null, seen: Seen): string[] {
  if (cause === 'pressure' || cause === 'unknown')
    return ['What the control itself shows would tell high from low pressure.'];
  if (cause !== 'high-pressure' && cause !== 'low-pressure') return [];
  const stops = stopsOf(seen, cause);
  return [
    ...(seen.outdoorsMeasured
      ? []
      : ['A temperature outdoors would tell the weather from the unit: none is wired.']),
    ...(cause === 'low-pressure' && stops.length < 2
      ? ['A second stop would show whether it always comes just past the bypass.']
      : []),
  ];
}

const degrees = (value: number): string => `${Math.round(value)} °C`;
const length = (s: number): string => (s < 120 ? `${Math.round(s)} s` : `${Math.round(s / 60)} min`);

/** Seconds between the newest protective stop and its run's start, [least, most]; null: none is known. */
export function failedRun(runs: readonly SeenRun[], before: Instant): Bounds | null {
  const stopped = runs.findLast(
    ({ end, cause }) =>
      end !== null && inSeconds(before - end) >= -1 && cause !== 'call-ended' && cause !== null,
  );
  return stopped?.ranSeconds ?? null;
}
