import type { Instant } from '../base/instant.ts';
import { layerTurns, type Stretch } from './layer-turns.ts';
import type { Override, Roster, Turn } from './roster.ts';

/**
 * Who is on. The answer tiles the time that was asked for: every instant lies in exactly one turn, and one with nobody is
 * a gap that the page shows (handbook 7).
 */
export function turnsOf(roster: Roster, overrides: readonly Override[], from: Instant, to: Instant): Turn[] {
  if (from >= to) return [];
  const lowest = roster.layers.map((layer) => layerTurns(roster, layer, from, to));
  const made = overrides
    .filter((override) => override.from < to && override.to > from)
    .toSorted((a, b) => a.madeAt - b.madeAt || (a.id < b.id ? -1 : 1))
    .map((override) => [
      {
        from: Math.max(override.from, from),
        to: Math.min(override.to, to),
        person: override.person,
        by: 'override',
      },
    ]);
  const nobody: Turn[] = [{ from, to, person: null, by: null }];
  return joined([...lowest, ...made].reduce<Turn[]>(laidOn, nobody));
}

/** What lies below, where nothing of what lies above covers it; both in time order. */
function laidOn(below: readonly Turn[], above: readonly Stretch[]): Turn[] {
  const result: Turn[] = [];
  let next = 0;
  for (const turn of below) {
    let from = turn.from;
    while (next < above.length && above[next]!.to <= turn.from) next++;
    for (let n = next; n < above.length && above[n]!.from < turn.to; n++) {
      const cover = above[n]!;
      if (cover.from > from) result.push({ ...turn, from, to: cover.from });
      result.push({ ...cover, from: Math.max(cover.from, turn.from), to: Math.min(cover.to, turn.to) });
      from = Math.min(cover.to, turn.to);
    }
    if (from < turn.to) result.push({ ...turn, from });
  }
  return result;
}

function joined(turns: readonly Turn[]): Turn[] {
  const result: Turn[] = [];
  for (const turn of turns) {
    const before = result.at(-1);
    if (before && before.person === turn.person && before.by === turn.by && before.to === turn.from)
      result[result.length - 1] = { ...before, to: turn.to };
    else result.push(turn);
  }
  return result;
}

export const gapsOf = (turns: readonly Turn[]): Turn[] => turns.filter(({ person }) => person === null);

const DAY = 86_400_000_000;
/** how far "until" and "next" look: no turn that matters to anybody today is longer */
const LOOK = 60 * DAY;

export interface OnNow {
  /** null: nobody is */
  readonly person: string | null;
  /** when that changes; null: not within 60 days */
  readonly until: Instant | null;
  /** who is on after that; null: nobody, or not within 60 days */
  readonly next: string | null;
}

/** Who is on at an instant, until when, and who is next. */
export function onCallAt(roster: Roster, overrides: readonly Override[], at: Instant): OnNow {
  const turns = turnsOf(roster, overrides, at, at + LOOK);
  const { person } = turns[0]!;
  const change = turns.find((turn) => turn.person !== person);
  return { person, until: change?.from ?? null, next: change?.person ?? null };
}

/** Only who: for a page that is due now. */
export const personAt = (roster: Roster, overrides: readonly Override[], at: Instant): string | null =>
  turnsOf(roster, overrides, at, at + 1)[0]!.person;

/** Two people take each other's turns: two overrides. Refused (null) where either turn has nobody or both have one. */
export function swapOf(a: Turn, b: Turn): readonly [SwapHalf, SwapHalf] | null {
  if (a.person === null || b.person === null || a.person === b.person) return null;
  return [
    { from: a.from, to: a.to, person: b.person },
    { from: b.from, to: b.to, person: a.person },
  ];
}

type SwapHalf = Pick<Override, 'from' | 'to' | 'person'>;
