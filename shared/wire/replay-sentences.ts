import type { Instant } from '../base/instant.ts';
import type { Measure } from '../inference/event.ts';
import { drawnLength, lengthBetween } from './durations.ts';
import { EVENT_WORDS } from './event-sentences.ts';
import type { EventAnswer } from './event-answer.ts';
import type { ReplayBeyond, ReplayDifference, ReplayResultAnswer, ReplayUnit } from './replay-answer.ts';
import { readInstant, readSpan } from './standing-wire.ts';

/** A replay in sentences: what would have been otherwise, how sure, and where the record can't say. */
export interface ReplaySentences {
  /** the answer to the question that was asked */
  readonly answer: string;
  /** each with the instants that it is about, from and until */
  readonly differences: readonly {
    readonly at: Instant;
    readonly until: Instant;
    readonly text: string;
    readonly leans: string | null;
  }[];
  readonly limits: readonly string[];
}

type Clock = (instant: Instant) => string;
type WireSpan = { readonly earliest: string; readonly latest: string };

export function replaySentences(answer: ReplayResultAnswer, clock: Clock): ReplaySentences {
  const differences = [
    ...answer.units.flatMap((unit) => unit.differences.map((one) => ofUnit(unit, one, clock))),
    ...answer.events.flatMap((one) => ofEvent(one, answer, clock)),
  ].sort((a, b) => a.at - b.at);
  return { answer: headline(answer, differences.length), differences, limits: limitsOf(answer, clock) };
}

function headline({ units, events }: ReplayResultAnswer, count: number): string {
  const replayed = units.filter(({ refused }) => refused === null);
  if (replayed.length === 0 && events.length === 0)
    return 'Nothing could be replayed: see below what the record is missing.';
  const beyond = replayed.some((unit) => unit.beyond.some(({ why }) => why !== 'not-begun'));
  const far = beyond ? ', as far as the record can say' : '';
  if (count === 0) return `Nothing would have gone otherwise${far}.`;
  const what = count === 1 ? 'One thing' : `${count} things`;
  return `${what} would have gone otherwise${far}.`;
}

function ofUnit(unit: ReplayUnit, one: ReplayDifference, clock: Clock) {
  const spans = [one.seen, one.replayed].flatMap((span) => readSpan(span) ?? []);
  const leans =
    one.leansOn.length === 0
      ? null
      : `Only if ${one.leansOn.map((doubt) => DOUBTS[doubt]).join(' and ')} had done as seen.`;
  return {
    at: Math.min(...spans.map(({ earliest }) => earliest)),
    until: Math.max(...spans.map(({ latest }) => latest)),
    text: `${unit.name} ${said(one, clock)}`,
    leans,
  };
}

const DOUBTS: Record<ReplayDifference['leansOn'][number], string> = {
  call: 'its call',
  pressure: 'its pressures',
  voltage: 'its control voltage',
};

function said(one: ReplayDifference, clock: Clock): string {
  const [seen, replayed] = [one.seen && when(one.seen, clock), one.replayed && when(one.replayed, clock)];
  const because = one.reason ? reasonText(one.reason) : '';
  if (one.kind === 'hard-lockout')
    return seen === null
      ? `would have latched out at ${replayed}${because}; it was not seen to.`
      : `latched out at ${seen}; replayed it doesn’t.`;
  if (one.kind === 'run')
    return seen === null
      ? `would have started at ${replayed}${because}, where it was seen off.`
      : `started at ${seen}; replayed it doesn’t run then.`;
  const verb = one.kind === 'start' ? 'started' : 'stopped';
  return `${verb} at ${seen}; replayed at ${replayed}, ${shiftText(one.shiftSeconds!)}${because}.`;
}

function shiftText([low, high]: readonly [number, number]): string {
  const middle = (low + high) / 2;
  const length =
    high - low <= 1 ? drawnLength(round(Math.abs(middle))) : lengthBetween(ends(low, high), drawnLength);
  return `${length} ${middle > 0 ? 'later' : 'earlier'}`;
}

const round = (value: number): number => Math.round(value * 10) / 10;
const ends = (low: number, high: number): readonly [number, number] =>
  high <= 0 ? [round(-high), round(-low)] : [round(low), round(high)];

const WAITS: Readonly<Record<string, string>> = {
  'power-up-delay': 'power-up delay',
  'off-delay': 'off-cycle delay',
  'soft-lockout': 'wait of the soft lockout',
  'undervoltage-hold': 'wait after undervoltage',
};

function reasonText({ code, wait, waited }: NonNullable<ReplayDifference['reason']>): string {
  if (code === 'wait-over' && waited !== undefined)
    return `, when its ${WAITS[wait ?? ''] ?? 'wait'} of ${round(waited)} s is over`;
  return REASONS[code] ?? '';
}

const REASONS: Readonly<Record<string, string>> = {
  'call-came': ', when its call came',
  'call-ended': ', when its call ended',
  'high-pressure': ', on high pressure',
  'high-pressure-at-start': ', with the high-pressure switch open',
  'low-pressure': ', on low pressure',
  'low-pressure-at-retry': ', with the low-pressure switch still open at the retry',
  undervoltage: ', on undervoltage',
  'voltage-recovered': ', when its voltage was back',
  'power-lost': ', when its power went',
};

/** One time where the interval is narrow, else both ends. */
function when(wire: WireSpan, clock: Clock): string {
  const span = readSpan(wire)!;
  if (span.latest - span.earliest <= 1_000_000) return clock((span.earliest + span.latest) / 2);
  const [from, to] = [clock(span.earliest), clock(span.latest)];
  return from === to ? from : `${from}–${to}`;
}

type EventPair = ReplayResultAnswer['events'][number];

function ofEvent({ kind, seen, replayed }: EventPair, answer: ReplayResultAnswer, clock: Clock) {
  const event = (replayed ?? seen)!;
  const at = readInstant((seen ?? replayed)!.start.latest);
  const time = when((seen ?? replayed)!.start, clock);
  const about = event.unit ?? event.space ?? event.panel;
  const name = about === null ? answer.site.name : (answer.names[about] ?? about);
  const term = EVENT_WORDS[event.kind].term.toLowerCase();
  const together =
    event.kind === 'simultaneous-start' && event.members.map((id) => answer.names[id] ?? id).join(' and ');
  const ends = [seen, replayed].flatMap((each) => (each ? readSpan(each.end ?? each.start)!.latest : []));
  const text = (says: string) => [{ at, until: Math.max(at, ...ends), text: says, leans: null }];
  if (kind === 'only-seen')
    return text(
      together
        ? `${together} started together at ${time}; replayed they don’t.`
        : `${name}: ${term} at ${time} as seen; replayed none.`,
    );
  if (kind === 'only-replayed')
    return text(
      together
        ? `${together} would start together at ${time}, which wasn’t seen.`
        : `${name}: ${term} at ${time} replayed; none as seen.`,
    );
  const changes = changesOf(seen!, replayed!, answer.names);
  return changes === '' ? [] : text(`${name}, ${term} at ${time}: ${changes}.`);
}

const VERDICTS: Readonly<Record<string, string>> = {
  separate: 'starts kept apart',
  simultaneous: 'two starts together',
  'cannot-be-told': 'can’t be told whether starts were kept apart',
};

/** What an event says otherwise: its verdict, its certainty, the spacing of its neighbours. */
function changesOf(seen: EventAnswer, replayed: EventAnswer, names: ReplayResultAnswer['names']): string {
  const found: string[] = [];
  const [was, is] = [seen.measures['verdict'], replayed.measures['verdict']];
  if (was !== is) found.push(`${verdictText(was)} as seen, ${verdictText(is)} replayed`);
  if (seen.certainty !== replayed.certainty)
    found.push(`${seen.certainty} as seen, ${replayed.certainty} replayed`);
  for (const [name, measure] of Object.entries(replayed.measures)) {
    const [, first, second] = /^([a-z0-9-]+)>([a-z0-9-]+)\.spacingSeconds$/.exec(name) ?? [];
    if (first === undefined || second === undefined) continue;
    const before = seen.measures[name] ?? seen.measures[`${second}>${first}.spacingSeconds`] ?? null;
    const [a, b] = [spacing(before), spacing(measure)];
    if (b !== null && a !== b)
      found.push(
        `${names[first] ?? first} and ${names[second] ?? second} ${b} apart${a === null ? '' : ` instead of ${a}`}`,
      );
  }
  return found.join('; ');
}

const verdictText = (verdict: Measure | undefined): string =>
  VERDICTS[String(verdict)] ?? 'no verdict on its starts';

function spacing(measure: Measure): string | null {
  if (!Array.isArray(measure)) return null;
  const [low, high] = measure as readonly [number, number];
  return high - low <= 1
    ? drawnLength(round((low + high) / 2))
    : lengthBetween([round(low), round(high)], drawnLength);
}

const BEYOND: Record<ReplayBeyond['why'], string> = {
  'runs-unseen':
    'it would have run while it was seen off, and nothing shows what its pressures would have done',
  'runs-on-unseen':
    'it would have run on where it was seen to stop, and nothing shows what its pressures would have done',
  'switch-opened-running': 'a pressure switch opened because it ran, and replayed it is held off then',
  'call-ended-running': 'its call ended because it had cooled, and replayed it is held off then',
  'order-not-known': 'the samples don’t tell in which order things happened',
  'signal-lost': 'one of its signals wasn’t known',
  'not-begun': 'nothing had been seen yet from which a replay can begin',
};

const REFUSED: Record<NonNullable<ReplayUnit['refused']>, string> = {
  'no-call': 'isn’t replayed: its cooling call isn’t wired, so what its control saw isn’t known',
  'no-output': 'isn’t replayed: neither its output nor its contactor or current is wired',
  'not-there': 'isn’t replayed: nothing was heard of its call or output in this stretch',
};

const UNSEEN: Record<ReplayUnit['unseen'][number], string> = {
  'high-pressure': 'its high-pressure switch (taken as closed)',
  'low-pressure': 'its low-pressure switch (taken as closed)',
  'control-voltage': 'its control voltage (taken as present)',
  'call-upstream': 'the call at its own terminal (sensed before its interlocks)',
};

function limitsOf({ units }: ReplayResultAnswer, clock: Clock): string[] {
  return units.flatMap((unit) => {
    if (unit.refused !== null) return [`${unit.name} ${REFUSED[unit.refused]}.`];
    const { compared, differing } = unit.baseline;
    return [
      ...unit.beyond.map(
        ({ from, to, why }) =>
          `${unit.name}, ${clock(readInstant(from))} to ${clock(readInstant(to))}: the record can’t say more; ${BEYOND[why]}.`,
      ),
      ...(unit.unseen.length > 0
        ? [`Not seen of ${unit.name}: ${unit.unseen.map((one) => UNSEEN[one]).join(', ')}.`]
        : []),
      ...(differing > 0
        ? [
            `${unit.name} itself doesn’t do all that the reference control does with the recorded settings: ${differing} of ${compared} changes were seen otherwise.`,
          ]
        : []),
      ...(unit.cut
        ? [`Of ${unit.name} only the first differences are listed: ask for a shorter stretch.`]
        : []),
    ];
  });
}
