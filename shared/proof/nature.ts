import type { Instant } from '../base/instant.ts';
import type { EventDraft } from '../inference/event.ts';
import type { SignalName } from '../telemetry/signals.ts';
import type { PointCase } from './judge-point.ts';
import { assertedAs } from './point-record.ts';
import type { Check, ProofItem } from './session.ts';

/** What no person may provoke is ticked off when it happens by itself, in the session or ever after (issue 7). */
const TOLD_BY: Readonly<Partial<Record<SignalName, readonly EventDraft['kind'][]>>> = {
  'high-pressure': ['soft-lockout', 'hard-lockout'],
  'low-pressure': ['soft-lockout', 'hard-lockout'],
  'lockout-alarm': ['hard-lockout'],
};

export function natureShows(at: PointCase): Check {
  const { record, words } = at;
  const { point } = record;
  const isAlarm = point.signal === 'lockout-alarm';
  const kind = isAlarm ? 'meaning' : 'trip';
  const told = eventFor(at, point.signal);
  if (told) {
    const says = `Shown by itself: ${told.kind.replaceAll('-', ' ')} ${words.clock(told.start.latest)}.`;
    return { kind, state: 'right', says, at: told.start.latest };
  }
  if (!isAlarm) {
    const there = record.moves.find(({ to }) => assertedAs(point, to) === 1);
    const back =
      there && record.moves.find(({ to, latest }) => latest > there.latest && assertedAs(point, to) === 0);
    if (back)
      return {
        kind,
        state: 'right',
        says: `Seen ${words.clock(there.latest)} and back ${words.clock(back.latest)}.`,
        at: back.latest,
      };
  }
  const says = isAlarm ? 'The unit hasn’t moved it yet.' : 'Not yet seen; it isn’t to be provoked.';
  return { kind, state: 'not-seen', says, at: null };
}

/** The first event of the unit that leans on this contact having been asserted. */
function eventFor({ record, units, events }: PointCase, signal: SignalName): EventDraft | undefined {
  const kinds = TOLD_BY[signal] ?? [];
  const ids = units.map(({ id }) => id);
  return events
    .filter(
      ({ kind, unit, start, evidence, certainty }) =>
        kinds.includes(kind) &&
        unit !== null &&
        ids.includes(unit) &&
        certainty !== 'possible' &&
        start.latest > record.since &&
        evidence.some((one) => one.signal === signal && one.value === 1),
    )
    .toSorted((a, b) => a.start.latest - b.start.latest || (a.id < b.id ? -1 : 1))[0];
}

/** The alarm’s wire: opened by hand where its dry contact rests closed, or moved by the unit itself. */
export function wireOf(at: PointCase): Check {
  const { record, units, responses, words } = at;
  for (const { id } of units) {
    const opened = responses
      .marksFor(record, id, ['alarm-open'])
      .flatMap((mark) => responses.answer(mark, record) ?? []);
    const back = opened[0] && record.moves.find(({ latest, to }) => latest > opened[0]!.latest && to === 1);
    if (opened[0]?.to === 0 && back)
      return {
        kind: 'wire',
        state: 'right',
        says: `Wire proven: opened ${words.clock(opened[0].latest)}, put back ${words.clock(back.latest)}.`,
        at: back.latest,
      };
  }
  const meaning = natureShows(at);
  return meaning.state === 'right'
    ? { ...meaning, kind: 'wire' }
    : { kind: 'wire', state: 'not-seen', says: 'Its wire isn’t proven yet.', at: null };
}

/** What a kept record had not seen, and has happened by itself since. */
export function seenByItself(
  items: readonly Pick<ProofItem, 'key' | 'device' | 'grade'>[],
  events: readonly EventDraft[],
): { readonly key: string; readonly kind: EventDraft['kind']; readonly at: Instant }[] {
  return items.flatMap(({ key, device, grade }) => {
    const signal = key.split('/')[1] as SignalName;
    const kinds = grade === 'proven' ? [] : (TOLD_BY[signal] ?? []);
    const first = events
      .filter(({ kind, unit }) => unit === device && kinds.includes(kind))
      .filter(
        ({ evidence, certainty }) =>
          certainty !== 'possible' && evidence.some((one) => one.signal === signal && one.value === 1),
      )
      .toSorted((a, b) => a.start.latest - b.start.latest)[0];
    return first ? [{ key, kind: first.kind, at: first.start.latest }] : [];
  });
}
