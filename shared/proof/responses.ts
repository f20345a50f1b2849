import { inSeconds, seconds, type Instant } from '../base/instant.ts';
import { REACH, type Move, type PointRecord } from './point-record.ts';
import type { GatewayProof, ProofMark } from './session.ts';

/**
 * What moved when somebody did something. A person presses a moment before or after the thing itself, so a move answers a mark
 * within some seconds; before that is looked at, each gateway’s clock is laid against the marks: at the right offset each mark
 * has a move near it, whichever wire it came by.
 */
const BEFORE = seconds(10);
const AFTER = seconds(15);
/** how near moves and marks must lie at an offset to speak for it */
const NEAR = seconds(6);
const STEP = seconds(1);
/** A clock that is this far off may be a person’s slowness as well. [practice, no source] */
export const HAND_SECONDS = 10;
const LEAST_MARKS = 2;

const DONE_TO_UNITS: ReadonlySet<ProofMark['kind']> = new Set<ProofMark['kind']>([
  'call-on',
  'call-off',
  'alarm-open',
  'alarm-closed',
  'power-off',
  'power-back',
]);

/** How each gateway’s clock stands to the marks. */
export function gatewayClocks(
  records: readonly PointRecord[],
  marks: readonly ProofMark[],
): ReadonlyMap<string, GatewayProof> {
  const done = marks.filter(({ kind }) => DONE_TO_UNITS.has(kind));
  const gateways = [...new Set(records.map(({ point }) => point.gateway))].sort();
  return new Map(
    gateways.map((gateway) => {
      const own = records.filter(({ point }) => point.gateway === gateway);
      const devices = new Set(own.flatMap(({ point }) => [point.device, ...point.of]));
      const moves = own.flatMap((record) => record.moves.map(middle)).sort((a, b) => a - b);
      const ahead = aheadOf(
        moves,
        done.filter(({ on }) => devices.has(on)).map(({ at }) => at),
      );
      const known = own.flatMap(({ knownThrough }) => knownThrough ?? []);
      return [
        gateway,
        {
          gateway,
          aheadSeconds: ahead === null ? null : Math.round(inSeconds(ahead) * 10) / 10,
          knownThrough: known.length === 0 ? null : Math.max(...known),
        },
      ];
    }),
  );
}

const middle = ({ earliest, latest }: Move): Instant => (earliest + latest) / 2;

/** The offset at which the most marks have a move near them, the least of those that do as well; null: too few do. */
function aheadOf(moves: readonly Instant[], marks: readonly Instant[]): number | null {
  const tried = new Set<number>([0]);
  for (const at of marks)
    for (const t of moves) if (Math.abs(t - at) <= REACH) tried.add(Math.round((t - at) / STEP) * STEP);
  let best = { by: 0, near: 0 };
  for (const by of [...tried].sort((a, b) => Math.abs(a) - Math.abs(b) || a - b)) {
    const near = marks.filter((at) => nearest(moves, at + by) <= (by === 0 ? AFTER : NEAR)).length;
    if (near > best.near) best = { by, near };
  }
  if (best.near < LEAST_MARKS) return null;
  const apart = marks
    .map((at) => nearestOf(moves, at + best.by) - at)
    .filter((by) => Math.abs(by - best.by) <= AFTER)
    .sort((a, b) => a - b);
  return apart[apart.length >> 1]!;
}

const nearest = (moves: readonly Instant[], at: Instant): number => Math.abs(nearestOf(moves, at) - at);

/** By halving; infinite where there is none. */
function nearestOf(moves: readonly Instant[], at: Instant): Instant {
  let [low, high] = [0, moves.length];
  while (low < high) {
    const half = (low + high) >> 1;
    if (moves[half]! < at) low = half + 1;
    else high = half;
  }
  const [below, above] = [moves[low - 1] ?? -Infinity, moves[low] ?? Infinity];
  return at - below <= above - at ? below : above;
}

/** Moves and marks of a session, on the clock of each point’s gateway. */
export class Responses {
  readonly #records: ReadonlyMap<string, PointRecord>;
  readonly #clocks: ReadonlyMap<string, GatewayProof>;
  readonly marks: readonly ProofMark[];

  constructor(
    records: readonly PointRecord[],
    marks: readonly ProofMark[],
    clocks: ReadonlyMap<string, GatewayProof>,
  ) {
    this.#records = new Map(records.map((record) => [record.key, record]));
    this.#clocks = clocks;
    this.marks = marks.toSorted((a, b) => a.at - b.at || (a.id < b.id ? -1 : 1));
  }

  get records(): readonly PointRecord[] {
    return [...this.#records.values()];
  }

  record(key: string): PointRecord | null {
    return this.#records.get(key) ?? null;
  }

  /** A mark’s instant on the clock that a point’s times are of. */
  at(mark: ProofMark, { point }: PointRecord): Instant {
    return mark.at + seconds(this.#clocks.get(point.gateway)?.aheadSeconds ?? 0);
  }

  /** The move that answers a mark; null: none does. */
  answer(mark: ProofMark, record: PointRecord): Move | null {
    const at = this.at(mark, record);
    const near = record.moves.filter(
      ({ earliest, latest }) => latest >= at - BEFORE && earliest <= at + AFTER && latest > record.since,
    );
    return near.toSorted((a, b) => Math.abs(a.latest - at) - Math.abs(b.latest - at))[0] ?? null;
  }

  /** Marks of these kinds on a unit that count for a point: made since it is wired as it is. */
  marksFor(record: PointRecord, unit: string, kinds: readonly ProofMark['kind'][]): ProofMark[] {
    return this.marks.filter(
      (mark) => mark.on === unit && kinds.includes(mark.kind) && this.at(mark, record) >= record.since,
    );
  }

  /** Is it known whether the point answered: it did, or everything through a while after the mark is known. */
  isSettled(mark: ProofMark, record: PointRecord): boolean {
    const { knownThrough } = record;
    return (
      this.answer(mark, record) !== null ||
      (knownThrough !== null && knownThrough > this.at(mark, record) + AFTER)
    );
  }
}
