import { formatInstant, inSeconds, seconds, type Instant } from '../base/instant.ts';
import { elapsed, type Span } from '../base/span.ts';
import type { Certainty, EventDraft, EventKind, Measure, Pending } from '../inference/event.ts';
import { causeText } from './cause-words.ts';
import { reachText } from './cooling-sentences.ts';
import { drawnLength, lengthBetween } from './durations.ts';
import { excursionText } from './excursion-words.ts';

/**
 * What an event says: kind × certainty → words, in the same terms as the units' sentences (sentences.ts). `title` is the
 * trade's term with its certainty and cause; `course` is how long it lasted and how it ended; `label` is the short form
 * that a drawing carries.
 */
export interface EventSentence {
  readonly title: string;
  readonly course: string | null;
  readonly label: string;
  readonly pending: string | null;
}

export type EventFacts = Pick<
  EventDraft,
  'kind' | 'cause' | 'certainty' | 'causeCertainty' | 'pending' | 'start' | 'end' | 'members' | 'measures'
>;

interface EventWords {
  readonly term: string;
  /** joins the cause to the term; `null`: the cause is part of the course, or goes without saying */
  readonly cause: ((words: string) => string) | null;
  /** once over, `span` being how long it lasted */
  readonly over: (span: string) => string;
  /** while it lasts */
  readonly open: (since: string) => string;
  /** the "cause" tells which of the kind's forms it is, nothing that could be doubted by itself: it takes no hedge */
  readonly form?: true;
  /** does it stand for an instant (end = start) */
  readonly instant?: true;
}

const after = (words: string): string => `, ${words}`;
const lasted = { over: (span: string) => `for ${span}`, open: (since: string) => `since ${since}` };
const moment = { over: () => '', open: () => '', instant: true } as const;

/** Total: a new kind of event doesn't compile until it has its words. */
export const EVENT_WORDS: Record<EventKind, EventWords> = {
  'compressor-run': {
    term: 'Run',
    cause: (words) => `, stopped: ${words}`,
    over: (span) => `ran ${span}`,
    open: (since) => `running since ${since}`,
  },
  'short-cycle': { term: 'Short cycle', form: true, cause: after, ...moment },
  'soft-lockout': {
    term: 'Soft lockout',
    cause: after,
    over: (span) => `held off ${span}`,
    open: (since) => `stopped ${since}, retries by itself`,
  },
  'hard-lockout': {
    term: 'Hard lockout',
    cause: after,
    over: (span) => `over after ${span}, when the call or the power was broken`,
    open: (since) => `latched ${since}, stays off until the call or the power is broken`,
  },
  'lockout-reset': { term: 'Lockout reset', form: true, cause: (words) => `: ${words}`, ...moment },
  'undervoltage-hold': {
    term: 'Undervoltage hold',
    cause: null,
    over: (span) => `held off ${span}`,
    open: (since) => `dropped ${since}, may start again by itself`,
  },
  'power-loss': {
    term: 'Power loss',
    cause: after,
    over: (span) => `back after ${span}`,
    open: (since) => `away since ${since}`,
  },
  'simultaneous-start': {
    term: 'Simultaneous start',
    form: true,
    cause: after,
    over: (span) => `within ${span}`,
    open: (since) => `since ${since}`,
  },
  'restart-sequence': {
    term: 'Restart sequence',
    cause: null,
    over: (span) => `took ${span}`,
    open: (since) => `under way since ${since}`,
  },
  'voltage-sag': { term: 'Voltage sag', cause: after, ...lasted },
  'voltage-swell': { term: 'Voltage swell', cause: after, ...lasted },
  interruption: { term: 'Interruption', cause: after, ...lasted },
  'generator-supply': { term: 'On generator', cause: after, ...lasted },
  'stuck-contactor': { term: 'Stuck contactor: current with no output', cause: after, ...lasted },
  'failed-start': { term: 'Failed start: output with no current', form: true, cause: after, ...lasted },
  'alarm-circuit-fault': {
    term: 'Alarm circuit fault',
    form: true,
    cause: (words) => `: ${words}`,
    ...lasted,
  },
  'setting-mismatch': { term: 'Setting mismatch', cause: after, ...lasted },
  'control-disagrees': {
    term: 'Control disagrees: its output goes against its inputs',
    cause: null,
    ...moment,
  },
  'control-voltage-out-of-range': {
    term: 'Control voltage out of range',
    form: true,
    cause: after,
    ...lasted,
  },
  'repeated-reset': { term: 'Repeated reset', cause: after, ...moment },
  'weak-cooling': { term: 'Weak cooling', form: true, cause: (words) => `: ${words}`, ...lasted },
  'loss-of-cooling': { term: 'Loss of cooling', form: true, cause: (words) => `: ${words}`, ...lasted },
  'high-temperature': { term: 'High temperature', form: true, cause: after, ...lasted },
  'telemetry-gap': { term: 'Telemetry gap', form: true, cause: (words) => `: ${words}`, ...lasted },
};

const HEDGES: Record<Certainty, string> = { certain: '', probable: ' is probable', possible: ' is possible' };
const HEDGED_CAUSE: Record<Certainty, string> = { certain: '', probable: ';', possible: ';' };

const PENDING_WORDS: Record<Pending, string> = {
  cause: 'the reason',
  certainty: 'how sure it is',
  end: 'its end',
};

export function eventSentence(event: EventFacts, clock: (instant: Instant) => string): EventSentence {
  const words = EVENT_WORDS[event.kind];
  return {
    title: `${words.term}${HEDGES[event.certainty]}${causeOf(event, words)}`,
    course: courseOf(event, words, clock) || null,
    label: labelOf(event, words),
    pending: pendingText(event.pending),
  };
}

/** `waits for more data: the reason, its end`; null where nothing does. */
export const pendingText = (pending: readonly string[]): string | null =>
  pending.length === 0
    ? null
    : `waits for more data: ${pending.map((name) => (name in PENDING_WORDS ? PENDING_WORDS[name as Pending] : name)).join(', ')}`;

function causeOf(event: EventFacts, words: EventWords): string {
  if (event.pending.includes('cause')) return '; reason not known yet';
  if (words.cause === null || event.cause === null) return '';
  if (event.kind === 'compressor-run' && event.end === null) return '';
  const sure = words.form ? 'certain' : (event.causeCertainty ?? 'certain');
  const said = words.cause(causeText(event.cause, sure));
  return HEDGED_CAUSE[event.certainty] === ';' ? said.replace(/^[,:]/, ';') : said;
}

function courseOf(event: EventFacts, words: EventWords, clock: (instant: Instant) => string): string {
  if (words.instant) return '';
  if (event.cause === 'forecast') return forecastCourse(event, words, clock);
  const reach = excursionText(event);
  const lasts = lastingOf(event, words, clock);
  return reach === null ? lasts : `${lasts} · ${reach}`;
}

function lastingOf(event: EventFacts, words: EventWords, clock: (instant: Instant) => string): string {
  if (event.end === null) return words.open(clock(event.start.latest));
  return words.over(lengthBetween(lengthOf(event.start, event.end), drawnLength));
}

/** `35 °C between 03:20 and 03:40 · since 02:31` */
function forecastCourse(event: EventFacts, words: EventWords, clock: (instant: Instant) => string): string {
  const { limitTemperature, soonestSeconds, latestSeconds } = event.measures;
  const at = (after: Measure | undefined): string | null =>
    typeof after === 'number' ? formatInstant(event.start.latest + seconds(after)) : null;
  const soonest = at(soonestSeconds);
  const lasts =
    event.end === null
      ? words.open(clock(event.start.latest))
      : words.over(lengthBetween(lengthOf(event.start, event.end), drawnLength));
  if (typeof limitTemperature !== 'number' || soonest === null) return lasts;
  return `${reachText(limitTemperature, { soonest, latest: at(latestSeconds) }, clock)} · ${lasts}`;
}

function labelOf(event: EventFacts, words: EventWords): string {
  const term = words.term.toLowerCase().replace(/:.*$/, '');
  const sure = event.certainty === 'certain' ? term : `${term}?`;
  if (words.instant || event.end === null) return sure;
  return `${sure} ${lengthBetween(lengthOf(event.start, event.end), drawnLength)}`;
}

/** Seconds [least, most]; an interval within a fifth of a second reads as one length. */
function lengthOf(start: Span, end: Span): readonly [number, number] {
  const [low, high] = elapsed(start, end);
  const middle = inSeconds((end.earliest + end.latest - start.earliest - start.latest) / 2);
  const narrow = high - low <= 1 && middle >= 10;
  return narrow ? [middle, middle] : [Math.max(0, low), Math.max(0, high)];
}

/** A measure's value, its measure taken from its name (`offSeconds`, `residualVolts`). */
export function measureText(name: string, value: Measure): string {
  if (value === null) return 'not measured';
  if (typeof value === 'string') return value;
  const ends = typeof value === 'number' ? ([value, value] as const) : value;
  if (name.endsWith('Seconds') || name === 'seconds') return lengthBetween(ends, drawnLength);
  const suffix = Object.entries(MEASURES).find(([ending]) => name.endsWith(ending))?.[1] ?? '';
  return lengthBetween(ends, (figure) => `${Math.round(figure * 100) / 100}${suffix}`);
}

const MEASURES: Readonly<Record<string, string>> = {
  Volts: ' V',
  Voltage: ' V',
  Amps: ' A',
  Temperature: ' °C',
  Kelvin: ' K',
  Percent: ' %',
};

/** `offSeconds` → `off`; `residualVolts` → `residual`. */
export const measureName = (name: string): string =>
  name
    .replace(/^seconds$/, 'lasted')
    .replace(/(Seconds|Volts|Amps|Kelvin|Percent)$/, '')
    .replace(/([A-Z])/g, (capital) => ` ${capital.toLowerCase()}`)
    .trim();
