import { inSeconds, seconds, type Instant } from '../base/instant.ts';
import { assertedAs, levelAt, type Move, type PointRecord } from './point-record.ts';
import type { Responses } from './responses.ts';
import type { Check, Fault, ProofMark } from './session.ts';

/** A contact’s direction, its rest and its bounce. What a person did tells the direction; a running compressor tells the rest. */
export interface Shown {
  readonly checks: readonly Check[];
  readonly faults: readonly Fault[];
}

export interface Words {
  readonly point: (key: string) => string;
  readonly clock: (at: Instant) => string;
}

const NOTHING: Shown = { checks: [], faults: [] };

interface Seen {
  readonly mark: ProofMark;
  readonly move: Move;
  readonly isRight: boolean;
}

/** Of a call: asserted once it is given, not once it is ended. Of an output: off with its call, on after it. */
export function directionOf(record: PointRecord, unit: string, responses: Responses, words: Words): Shown {
  const seen =
    record.point.signal === 'cooling-call'
      ? callMoves(record, unit, responses)
      : outputMoves(record, unit, responses);
  const wrong = seen.filter(({ isRight }) => !isRight);
  const right = seen.filter(({ isRight }) => isRight);
  const name = words.point(record.key);
  if (wrong.length > right.length)
    return { checks: [polarityCheck('wrong', wrong, words)], faults: [flipped(record, name, wrong, words)] };
  const [on, off] = [1, 0].map((to) => right.find(({ move }) => assertedAs(record.point, move.to) === to));
  const checks: Check[] = [
    seenCheck('on', on, words),
    seenCheck('off', off, words),
    on || off
      ? polarityCheck('right', right, words)
      : { kind: 'polarity', state: 'not-seen', says: 'Its direction isn’t known yet.', at: null },
  ];
  return { checks, faults: [] };
}

function callMoves(record: PointRecord, unit: string, responses: Responses): Seen[] {
  return responses.marksFor(record, unit, ['call-on', 'call-off']).flatMap((mark): Seen[] => {
    const move = responses.answer(mark, record);
    if (!move) return [];
    return [{ mark, move, isRight: assertedAs(record.point, move.to) === (mark.kind === 'call-on' ? 1 : 0) }];
  });
}

/** With the end of a call at once (handbook 2.2.2); with its beginning at once or after a wait: the first move within the call. */
function outputMoves(record: PointRecord, unit: string, responses: Responses): Seen[] {
  const marks = responses.marksFor(record, unit, ['call-on', 'call-off']);
  return marks.flatMap((mark, i): Seen[] => {
    const next = marks[i + 1];
    const at = responses.at(mark, record);
    const until = next ? responses.at(next, record) - seconds(1) : Infinity;
    const move =
      mark.kind === 'call-off'
        ? responses.answer(mark, record)
        : (record.moves.find(({ latest }) => latest >= at - seconds(5) && latest < until) ?? null);
    if (!move) return [];
    return [{ mark, move, isRight: assertedAs(record.point, move.to) === (mark.kind === 'call-on' ? 1 : 0) }];
  });
}

function seenCheck(what: 'on' | 'off', seen: Seen | undefined, { clock }: Words): Check {
  if (!seen) return { kind: 'moved', state: 'not-seen', says: `Not seen ${what} yet.`, at: null };
  return {
    kind: 'moved',
    state: 'right',
    says: `Seen ${what} at ${clock(seen.move.latest)}.`,
    at: seen.move.latest,
  };
}

function polarityCheck(state: 'right' | 'wrong', seen: readonly Seen[], { clock }: Words): Check {
  const [first] = seen;
  const did = first!.mark.kind === 'call-on' ? 'was called' : 'call was ended';
  const says =
    state === 'right'
      ? 'Its direction agrees with what was done.'
      : `It moved the wrong way when the unit’s ${did.replace('was called', 'call was given')} at ${clock(first!.mark.at)}.`;
  return { kind: 'polarity', state, says, at: first!.move.latest };
}

function flipped(
  { key, point }: PointRecord,
  name: string,
  seen: readonly { readonly mark: ProofMark }[],
  { clock }: Words,
): Fault {
  const times = seen.map(
    ({ mark }) => `${mark.kind === 'call-on' ? 'call given' : 'call ended'} ${clock(mark.at)}`,
  );
  return polarityFault(key, point.contact, name, [`It moved the other way each time: ${times.join(', ')}.`]);
}

function polarityFault(
  key: string,
  contact: PointRecord['point']['contact'],
  name: string,
  because: readonly string[],
): Fault {
  const other = contact === 'normally-open' ? 'normally-closed' : 'normally-open';
  return {
    key: `polarity:${key}`,
    kind: 'polarity',
    on: [key],
    says: `Wrong polarity: ${name} is recorded as ${contact} and behaves as ${other}.`,
    because,
    correction: { kind: 'contact', point: key, contact: other },
  };
}

/** While the compressor has run for so long, no switch of its own can be open. */
const RUN_TELLS: Readonly<Record<string, (bypass: number) => number>> = {
  'high-pressure': () => 2,
  'low-pressure': (bypass) => bypass + 10,
  'lockout-alarm': () => 2,
};

/** Handbook 2.2.3 to 2.2.5: it doesn’t run with high pressure open, nor with low pressure open past the bypass, nor locked out. */
export function restOf(
  record: PointRecord,
  output: PointRecord | null,
  { bypassSeconds, except }: { readonly bypassSeconds: number; readonly except: readonly Stretch[] },
  words: Words,
): Shown {
  const tells = RUN_TELLS[record.point.signal];
  if (!tells || !output) return NOTHING;
  const need = seconds(tells(bypassSeconds));
  const name = words.point(record.key);
  let calm: Instant | null = null;
  for (const { from, to } of runsOf(output)) {
    const start = Math.max(from, record.since);
    const tripped = stretchOf(record, start, to, 1);
    const isByHand = tripped && except.some((one) => one.from <= tripped.to && one.to >= tripped.from);
    if (tripped && !isByHand && tripped.to - tripped.from >= need) {
      const because = `At ${words.clock(tripped.from)} the compressor ran and this contact said that it was ${record.point.signal === 'lockout-alarm' ? 'locked out' : 'tripped'}, for ${Math.round(inSeconds(tripped.to - tripped.from))} s. It can’t be both.`;
      return {
        checks: [{ kind: 'rest', state: 'wrong', says: because, at: tripped.from }],
        faults: [polarityFault(record.key, record.point.contact, name, [because, ...brokenToo(record)])],
      };
    }
    if (stretchOf(record, start, to, 0)) calm ??= to;
  }
  return calm === null
    ? {
        checks: [
          { kind: 'rest', state: 'not-seen', says: 'Its rest isn’t known until the unit has run.', at: null },
        ],
        faults: [],
      }
    : {
        checks: [
          { kind: 'rest', state: 'right', says: 'At rest while the compressor ran, as recorded.', at: calm },
        ],
        faults: [],
      };
}

/** A broken wire reads open, as a contact of the other kind does: turned round it would hide a fault for good. */
const brokenToo = (record: PointRecord): string[] =>
  record.moves.length === 0 && record.rest === 0
    ? ['A broken wire looks the same: look at its input before you set it otherwise.']
    : [];

export interface Stretch {
  readonly from: Instant;
  readonly to: Instant;
}

/** Where the output was on: from when it was surely on; while it lasts, through what is known. */
export function runsOf(output: PointRecord): Stretch[] {
  const { moves, point, rest, since, knownThrough } = output;
  const isOn = (to: 0 | 1) => assertedAs(point, to) === 1;
  const starts = rest !== null && isOn(rest) ? [since] : [];
  const ends: Instant[] = [];
  for (const move of moves) (isOn(move.to) ? starts : ends).push(isOn(move.to) ? move.latest : move.earliest);
  return starts.flatMap((from) => {
    const to = ends.find((end) => end >= from) ?? knownThrough;
    return to !== null && to > from ? [{ from, to }] : [];
  });
}

/** The longest stretch within another in which the contact is known to be asserted or not; through what is known of it. */
function stretchOf(record: PointRecord, from: Instant, to: Instant, asserted: 0 | 1): Stretch | null {
  const end = Math.min(to, record.knownThrough ?? -Infinity);
  let best: Stretch | null = null;
  const cuts = [from, ...record.moves.map(({ latest }) => latest).filter((t) => t > from && t < end), end];
  for (let i = 0; i + 1 < cuts.length; i++) {
    const [a, b] = [cuts[i]!, cuts[i + 1]!];
    const level = levelAt(record, a);
    if (level === null || b <= a || assertedAs(record.point, level) !== asserted) continue;
    if (best === null || b - a > best.to - best.from) best = { from: a, to: b };
  }
  return best;
}

export function bounceOf(record: PointRecord, words: Words): Shown {
  const { longestBounceSeconds: longest, point, moves } = record;
  if (moves.length === 0) return NOTHING;
  const says = longest === 0 ? 'No bounce was seen.' : `It bounces for ${trimmed(longest)} s at most.`;
  if (longest <= point.debounceSeconds)
    return { checks: [{ kind: 'bounce', state: 'right', says, at: null }], faults: [] };
  const enough = Math.ceil(longest * 15) / 10;
  return {
    checks: [{ kind: 'bounce', state: 'wrong', says, at: null }],
    faults: [
      {
        key: `bounce:${record.key}`,
        kind: 'bounce',
        on: [record.key],
        says: `Bounce: ${words.point(record.key)} bounces for ${trimmed(longest)} s, longer than its debounce of ${trimmed(point.debounceSeconds)} s.`,
        because: ['Each bounce would be taken for a change.'],
        correction: { kind: 'debounce', point: record.key, seconds: enough },
      },
    ],
  };
}

const trimmed = (value: number): string => String(Math.round(value * 100) / 100);
