import type { PointRecord } from './point-record.ts';
import { levelAt } from './point-record.ts';
import type { Responses } from './responses.ts';
import type { Fault, ProofMark } from './session.ts';

/**
 * Which wire is on which input (issue 7): what moved when somebody did something tells whose wire it is, whatever it is called.
 * A point that stayed still while another moved in its place is swapped with it, or mapped to the wrong input; one that stayed
 * still while nothing else did has a dead wire. Nothing is said before the gateway’s telling of that time has arrived.
 */
export interface WireNames {
  /** what a point is called in a sentence */
  readonly point: (key: string) => string;
  readonly clock: (at: number) => string;
}

interface Tested {
  readonly record: PointRecord;
  /** what was done to make it move, each settled */
  readonly marks: readonly ProofMark[];
  /** so many tell */
  readonly least: number;
  readonly did: string;
}

export function wireFaults(responses: Responses, names: WireNames, unitsOf: UnitsOf): Fault[] {
  const tested = responses.records.flatMap((record) => testOf(record, responses, unitsOf));
  const still = tested.filter(
    ({ record, marks, least }) =>
      marks.length >= least &&
      marks.every((mark) => responses.isSettled(mark, record)) &&
      marks.every((mark) => responses.answer(mark, record) === null),
  );
  const faults: Fault[] = [];
  for (const one of still) {
    const other = movedInstead(one, responses, unitsOf);
    if (other === null) {
      if (one.record.moves.length === 0) faults.push(deadWire(one, names));
      continue;
    }
    const isBoth =
      still.some(({ record }) => record.key === other.key) && !isAnswered(other, responses, unitsOf);
    faults.push(isBoth || !hasTest(other, tested) ? swapped(one, other, names) : mapped(one, other, names));
  }
  const told = new Set(faults.flatMap(({ on }) => on));
  return [
    ...once(faults),
    ...lateCalls(responses, names, unitsOf).filter(({ on }) => !on.some((key) => told.has(key))),
  ];
}

/** The units that a point belongs to: its own, or those that share it. */
export type UnitsOf = (record: PointRecord) => readonly string[];

/** What shows a point’s wire: both ends of a call for the call, what was done at the wire or the disconnect for others. */
function testOf(record: PointRecord, responses: Responses, unitsOf: UnitsOf): Tested[] {
  const of = (kinds: readonly ProofMark['kind'][], did: string): Tested[] => {
    const marks = unitsOf(record).flatMap((unit) => responses.marksFor(record, unit, kinds));
    return marks.length === 0 ? [] : [{ record, marks, least: 2, did }];
  };
  switch (record.point.signal) {
    case 'cooling-call':
      return of(['call-on', 'call-off'], 'the call was given and ended');
    case 'lockout-alarm':
      return of(['alarm-open', 'alarm-closed'], 'its wire was opened and closed');
    case 'control-voltage':
      return of(['power-off', 'power-back'], 'power was taken away and given back');
    case 'compressor-output':
      return outputTest(record, responses, unitsOf);
    default:
      return [];
  }
}

/** An output drops with the call; only a call that was longer than every wait shows that it should have been there. */
function outputTest(record: PointRecord, responses: Responses, unitsOf: UnitsOf): Tested[] {
  const marks = unitsOf(record).flatMap((unit) => {
    const calls = responses.marksFor(record, unit, ['call-on', 'call-off']);
    return calls.flatMap((mark, i) => {
      const before = calls[i - 1];
      const isLong = before?.kind === 'call-on' && mark.at - before.at > LONGEST_WAIT;
      return mark.kind === 'call-off' && isLong ? [mark] : [];
    });
  });
  return marks.length === 0
    ? []
    : [{ record, marks, least: 1, did: 'a call ended that had outlasted every delay' }];
}
/** The longest power-up delay and off-cycle delay that the settings’ ranges allow, with room (handbook 2.1). */
const LONGEST_WAIT = 330 * 1_000_000;

/** The contact that answered all of these marks though it has nothing to do with them. */
function movedInstead({ record, marks }: Tested, responses: Responses, unitsOf: UnitsOf): PointRecord | null {
  const units = unitsOf(record);
  const others = responses.records.filter(
    (other) =>
      other.key !== record.key &&
      other.point.gateway === record.point.gateway &&
      !isOwnAnswer(other, units, unitsOf, marks) &&
      marks.every((mark) => responses.answer(mark, other) !== null),
  );
  const like = others.find(({ point }) => point.signal === record.point.signal);
  return like ?? others.find((other) => isContactLike(other) === isContactLike(record)) ?? null;
}

const isContactLike = ({ point }: PointRecord): boolean => point.range[1] === 1;

/** Of the same unit, and moved by the same thing: the output by a call, everything by the disconnect. */
function isOwnAnswer(
  other: PointRecord,
  units: readonly string[],
  unitsOf: UnitsOf,
  marks: readonly ProofMark[],
): boolean {
  const isOwn = unitsOf(other).some((unit) => units.includes(unit));
  const isAlarm = marks.every(({ kind }) => kind === 'alarm-open' || kind === 'alarm-closed');
  return isOwn && !isAlarm;
}

const hasTest = (record: PointRecord, tested: readonly Tested[]): boolean =>
  tested.some((one) => one.record.key === record.key);

/** Does it answer what is done to its own unit. */
const isAnswered = (record: PointRecord, responses: Responses, unitsOf: UnitsOf): boolean =>
  testOf(record, responses, unitsOf).some(({ marks }) =>
    marks.some((mark) => responses.answer(mark, record) !== null),
  );

function deadWire({ record, marks, did }: Tested, { point, clock }: WireNames): Fault {
  const level = record.rest === null ? 'It was never heard' : 'It was heard and never moved';
  return {
    key: `dead-wire:${record.key}`,
    kind: 'dead-wire',
    on: [record.key],
    says: `Dead wire: ${point(record.key)} never moved.`,
    because: [`${timesOf(marks, clock)} ${did}. ${level}, and no other contact moved instead.`],
    correction: null,
  };
}

const timesOf = (marks: readonly ProofMark[], clock: (at: number) => string): string =>
  `At ${marks.map(({ at }) => clock(at)).join(' and ')}`;

function swapped(one: Tested, other: PointRecord, { point, clock }: WireNames): Fault {
  const points = [one.record.key, other.key].sort() as [string, string];
  return {
    key: `swapped:${points.join('+')}`,
    kind: 'swapped',
    on: points,
    says: `Two wires are swapped: ${point(points[0])} and ${point(points[1])}.`,
    because: [
      `${timesOf(one.marks, clock)} ${one.did} for ${point(one.record.key)}; ${point(other.key)} moved instead.`,
    ],
    correction: { kind: 'swap', points },
  };
}

function mapped(one: Tested, other: PointRecord, { point, clock }: WireNames): Fault {
  return {
    key: `mapping:${one.record.key}`,
    kind: 'mapping',
    on: [one.record.key, other.key],
    says: `Wrong input: what should be ${point(one.record.key)} comes in as ${point(other.key)}.`,
    because: [
      `${timesOf(one.marks, clock)} ${one.did} for ${point(one.record.key)}; ${point(other.key)} moved instead, and moves for its own unit as well.`,
    ],
    correction: null,
  };
}

/** A pair is told once, with what both of it showed. */
function once(faults: readonly Fault[]): Fault[] {
  const found = new Map<string, Fault>();
  for (const fault of faults) {
    const before = found.get(fault.key);
    found.set(fault.key, before ? { ...before, because: [...before.because, ...fault.because] } : fault);
  }
  return [...found.values()];
}

/**
 * Call and output of one unit, swapped: both drop with the call, but the wire that is called the output comes with a call that
 * has to wait, and the one that is called the call comes later (handbook 2.2: the output never comes before its call).
 */
function lateCalls(responses: Responses, names: WireNames, unitsOf: UnitsOf): Fault[] {
  return responses.records.flatMap((call): Fault[] => {
    if (call.point.signal !== 'cooling-call') return [];
    return unitsOf(call).flatMap((unit): Fault[] => {
      const output = responses.record(`${unit}/compressor-output`);
      if (!output) return [];
      const marks = responses.marksFor(call, unit, ['call-on']);
      const shown = marks.filter((mark) =>
        isCallLate(call, output, responses.at(mark, call), responses.at(marks[0]!, call)),
      );
      return shown.length === 0 ? [] : [callAndOutput(call, output, shown, names)];
    });
  });
}

const APART = 20 * 1_000_000;
const SOON = 15 * 1_000_000;

/** The output left its idle state with the mark, and the call did so well after it. `first`: before it neither was called. */
function isCallLate(call: PointRecord, output: PointRecord, at: number, first: number): boolean {
  const leaves = (record: PointRecord) => {
    const idle = levelAt(record, first - SOON);
    return record.moves.filter(({ to, latest }) => idle !== null && to !== idle && latest >= at - SOON);
  };
  const [early] = leaves(output);
  const [late] = leaves(call);
  return (
    early !== undefined &&
    late !== undefined &&
    early.latest <= at + SOON &&
    late.latest > early.latest + APART
  );
}

function callAndOutput(
  call: PointRecord,
  output: PointRecord,
  shown: readonly ProofMark[],
  { point, clock }: WireNames,
): Fault {
  const points = [call.key, output.key].sort() as [string, string];
  return {
    key: `swapped:${points.join('+')}`,
    kind: 'swapped',
    on: points,
    says: `Two wires are swapped: ${point(call.key)} and ${point(output.key)}.`,
    because: [
      `${timesOf(shown, clock)} the call was given: ${point(output.key)} moved at once and ${point(call.key)} only later, and no output comes before its call.`,
    ],
    correction: { kind: 'swap', points },
  };
}
