import { seconds, type Instant } from '../../../shared/base/instant.ts';
import { exactly, type Span } from '../../../shared/base/span.ts';
import type { EventKind } from '../../../shared/inference/event.ts';
import type { UnitPhase, UnitStanding } from '../../../shared/inference/standing.ts';
import type { SignalName } from '../../../shared/telemetry/signals.ts';
import { candidateText } from '../../../shared/wire/cause-words.ts';
import { drawnLength } from '../../../shared/wire/durations.ts';
import { eventSentence } from '../../../shared/wire/event-sentences.ts';
import { PHASE_WORDS } from '../../../shared/wire/sentences.ts';
import type { EventView } from '../view/site-view.ts';

/**
 * What is drawn on the lanes: inferred facts on the lane they came from, and the delays between runs as hatched spans
 * with their length, as a relay timing chart has them.
 */
export type MarkDrawing =
  | 'waiting'
  | 'stopped-itself'
  | 'latched'
  | 'no-power'
  /** shaded, for what lasts and is abnormal */
  | 'shaded'
  /** dimensioned only */
  | 'length'
  /** an instant */
  | 'caret';

export interface Mark {
  readonly id: string;
  readonly signal: SignalName;
  /** where several devices share a signal's name; else any */
  readonly device?: string;
  readonly drawing: MarkDrawing;
  readonly start: Span;
  /** null: it lasts still */
  readonly end: Span | null;
  readonly label: string;
  /** its length alone, where there is no room for words */
  readonly short: string;
  /** the whole sentence, for a pointer and for reading aloud */
  readonly says: string;
  readonly event: string | null;
  /** waits for more data, or isn't certain: drawn with a broken outline */
  readonly open: boolean;
}

interface MarkPlace {
  /** the first of these that is wired */
  readonly lanes: readonly SignalName[];
  readonly drawing: MarkDrawing | null;
}

const OUTPUT: readonly SignalName[] = ['compressor-output', 'contactor-voltage', 'compressor-current'];
const place = (drawing: MarkDrawing | null, ...lanes: readonly SignalName[]): MarkPlace => ({
  drawing,
  lanes,
});

/** Total: a new kind of event needs its place on the chart. Runs and gaps are drawn by the lanes themselves. */
const EVENT_PLACES: Record<EventKind, MarkPlace> = {
  'compressor-run': place(null),
  'short-cycle': place('caret', ...OUTPUT),
  'soft-lockout': place('stopped-itself', ...OUTPUT),
  'hard-lockout': place('latched', 'lockout-alarm', ...OUTPUT),
  'lockout-reset': place('caret', 'lockout-alarm', 'cooling-call'),
  'undervoltage-hold': place('stopped-itself', ...OUTPUT, 'control-voltage'),
  'power-loss': place('no-power', 'control-voltage', ...OUTPUT),
  'simultaneous-start': place('caret', ...OUTPUT),
  'restart-sequence': place(null),
  'voltage-sag': place('shaded', 'line-voltage', 'control-voltage'),
  'voltage-swell': place('shaded', 'line-voltage', 'control-voltage'),
  interruption: place('shaded', 'line-voltage', 'control-voltage'),
  'generator-supply': place('shaded', 'generator-running', 'line-voltage'),
  'stuck-contactor': place('shaded', 'compressor-current', ...OUTPUT),
  'failed-start': place('shaded', 'compressor-current', ...OUTPUT),
  'alarm-circuit-fault': place('shaded', 'lockout-alarm'),
  'setting-mismatch': place('caret', ...OUTPUT),
  'control-disagrees': place('caret', ...OUTPUT),
  'control-voltage-out-of-range': place('shaded', 'control-voltage'),
  'repeated-reset': place('caret', 'lockout-alarm'),
  'weak-cooling': place('shaded', 'supply-air-temperature', 'return-air-temperature', 'space-temperature'),
  'loss-of-cooling': place('shaded', 'space-temperature'),
  'high-temperature': place('shaded', 'space-temperature'),
  'telemetry-gap': place(null),
};

export function eventMarks(
  events: readonly EventView[],
  wired: ReadonlySet<SignalName>,
  clock: (at: Instant) => string,
): Mark[] {
  return events.flatMap((event) => {
    const { drawing, lanes } = EVENT_PLACES[event.kind];
    const signal = lanes.find((lane) => wired.has(lane));
    if (drawing === null || signal === undefined) return [];
    const sentence = eventSentence(event, clock);
    return [
      {
        id: event.id,
        signal,
        drawing,
        start: event.start,
        end: drawing === 'caret' ? event.start : event.end,
        label: sentence.label,
        short: event.end === null ? '' : drawnLength((event.end.latest - event.start.latest) / 1e6),
        says: [sentence.title, sentence.course, sentence.pending].filter(Boolean).join(', '),
        event: event.id,
        open: isOpen(event),
      },
    ];
  });
}

/** Not certain that it happened, or its cause still waits for data. What merely hasn't ended isn't open. */
const isOpen = (event: EventView): boolean =>
  event.certainty !== 'certain' || event.pending.some((name) => name !== 'end');

/** A reason written where it happened: on the output's lane, from the stop on, as far as there is room. */
export interface Note {
  readonly id: string;
  readonly signal: SignalName;
  readonly at: Instant;
  readonly text: string;
}

/** The reason that excludes something says most; it stands beside the stop that latched. */
export function noteMarks(events: readonly EventView[], wired: ReadonlySet<SignalName>): Note[] {
  const signal = OUTPUT.find((lane) => wired.has(lane));
  if (signal === undefined) return [];
  return events.flatMap((event) => {
    const out = event.candidates.find((candidate) => candidate.fit === 'excluded');
    if (event.kind !== 'hard-lockout' || !out) return [];
    const text = `not ${candidateText(out.cause)}: ${out.because}`;
    return [{ id: event.id, signal, at: event.start.latest, text }];
  });
}

/** Lengths of the waits, in seconds, as the settings have them. */
export interface WaitLengths {
  readonly offDelay: number | null;
  readonly powerUpDelay: number | null;
  readonly assumed: boolean;
}

/**
 * The waits that no event stands for: after each run the off-cycle delay, after each power return the power-up delay,
 * until the next run at the latest. A soft lockout's span is its event's.
 */
export function waitMarks(
  events: readonly EventView[],
  wired: ReadonlySet<SignalName>,
  lengths: WaitLengths,
): Mark[] {
  const signal = OUTPUT.find((lane) => wired.has(lane));
  if (signal === undefined) return [];
  const runs = events
    .filter((event) => event.kind === 'compressor-run')
    .toSorted((a, b) => a.start.latest - b.start.latest);
  const losses = events.filter((event) => event.kind === 'power-loss');
  const held = events.filter((event) => HOLDS.has(event.kind));
  const waits: Mark[] = [];
  const put = (name: string, start: Span, length: number, id: string) => {
    // a start ends the wait, and a loss of power begins another
    const next = [...runs, ...losses].map((event) => event.start).filter((at) => at.latest > start.latest);
    const end = Math.min(start.latest + seconds(length), ...next.map((at) => at.earliest));
    const short = drawnLength((end - start.latest) / 1e6);
    const label = `${name} ${short}`;
    const says = `${label}${lengths.assumed ? ', its length assumed' : ''}`;
    const mark = {
      id,
      signal,
      drawing: 'waiting',
      start,
      end: exactly(end),
      label,
      short,
      note: null,
      says,
    } as const;
    waits.push({ ...mark, event: null, open: lengths.assumed });
  };
  for (const run of runs)
    if (run.end !== null && lengths.offDelay !== null && !covered(run.end, [...held, ...losses]))
      put('off-cycle delay', run.end, lengths.offDelay, `${run.id}/wait`);
  for (const loss of losses)
    if (loss.end !== null && lengths.powerUpDelay !== null)
      put('power-up delay', loss.end, lengths.powerUpDelay, `${loss.id}/wait`);
  return waits;
}

const HOLDS: ReadonlySet<EventKind> = new Set(['soft-lockout', 'hard-lockout', 'undervoltage-hold']);

/** Does a hold or a power loss begin where the run ended, or last through it. */
const covered = (end: Span, events: readonly EventView[]): boolean =>
  events.some(
    (event) => event.start.earliest <= end.latest && (event.end === null || event.end.latest >= end.earliest),
  );

/** Runs that a protective stop cut short, dimensioned: how soon it stopped says a good deal. */
export function shortRunMarks(events: readonly EventView[], wired: ReadonlySet<SignalName>): Mark[] {
  const signal = OUTPUT.find((lane) => wired.has(lane));
  if (signal === undefined) return [];
  return events.flatMap((event) => {
    const stopped = event.cause !== null && event.cause !== 'call-ended' && event.cause !== 'unknown';
    if (event.kind !== 'compressor-run' || event.end === null || !stopped) return [];
    const length = (event.end.latest - event.start.latest) / 1e6;
    if (length > 300) return [];
    const label = drawnLength(length);
    const mark = {
      id: `${event.id}/length`,
      signal,
      drawing: 'length',
      start: event.start,
      end: event.end,
    } as const;
    return [{ ...mark, label, short: label, says: `ran ${label}`, event: event.id, open: false }];
  });
}

/** What is waited for now, drawn to where it should end: the part after now is what is left of it. */
export function standingMark(standing: UnitStanding, wired: ReadonlySet<SignalName>): Mark[] {
  const drawing = AHEAD[standing.phase];
  const signal = OUTPUT.find((lane) => wired.has(lane));
  if (drawing === null || signal === undefined || standing.until === null || standing.since === null)
    return [];
  const { since, until } = standing;
  const short = drawnLength((until.latest - since.latest) / 1e6);
  const label = `${PHASE_WORDS[standing.phase].certain.toLowerCase()} ${short}`;
  const mark = { id: 'standing', signal, drawing, start: since, end: until, label, short } as const;
  return [{ ...mark, says: label, event: standing.event, open: standing.untilFrom === 'assumed' }];
}

/** Total: which waits are drawn ahead of now. */
const AHEAD: Record<UnitPhase, MarkDrawing | null> = {
  running: null,
  ready: null,
  'off-delay': 'waiting',
  'power-up-delay': 'waiting',
  'soft-lockout': 'stopped-itself',
  'undervoltage-hold': 'stopped-itself',
  'hard-lockout': null,
  'failed-start': null,
  'no-power': null,
  stopped: null,
  'not-known': null,
};
