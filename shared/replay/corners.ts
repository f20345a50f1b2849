import type { Instant } from '../base/instant.ts';
import type { Edge } from '../inference/track.ts';
import type { InputRole } from './inputs.ts';

/**
 * Which exact histories stand for all that fit the intervals? What a control does comes at the instant of an input or a fixed
 * time after one, or at the later of two such instants: as long as the order of what happens stays the same, the earliest and
 * the latest histories bound it. To find where the order may differ, each input in turn is taken early, late, as long as
 * possible and as short as possible against all others early and all others late.
 */
type Corner = Readonly<Partial<Record<InputRole, Pattern>>>;
type Pattern = 'middle' | 'earliest' | 'latest' | 'longest' | 'shortest';

const PATTERNS: readonly Pattern[] = ['earliest', 'latest', 'longest', 'shortest'];

/** The middle of every interval first: the history that is drawn. `roles` are those with an interval in the stretch. */
export function cornersOf(roles: readonly InputRole[]): readonly Corner[] {
  const all = (pattern: Pattern): Corner => Object.fromEntries(roles.map((role) => [role, pattern]));
  const found = [all('middle'), ...PATTERNS.map(all)];
  for (const role of roles)
    for (const others of ['earliest', 'latest'] as const)
      for (const pattern of PATTERNS) found.push({ ...all(others), [role]: pattern });
  return [...new Map(found.map((corner) => [JSON.stringify(corner), corner])).values()];
}

export interface Instantly {
  readonly at: Instant;
  readonly to: number;
}

/** One input's edges at exact instants, in their order, never two at one. Edges to and from "not known" aren't among them. */
export function atInstants(edges: readonly Edge[], pattern: Pattern): Instantly[] {
  let last = -Infinity;
  return edges.map((edge) => {
    const at = Math.max(last + 1, instantOf(edge, pattern));
    last = at;
    return { at, to: edge.to ?? 0 };
  });
}

function instantOf({ earliest, latest, from, to }: Edge, pattern: Pattern): Instant {
  const rises = (to ?? 0) > (from ?? 0);
  switch (pattern) {
    case 'middle':
      return Math.round((earliest + latest) / 2);
    case 'earliest':
      return earliest;
    case 'latest':
      return latest;
    case 'longest':
      return rises ? earliest : latest;
    case 'shortest':
      return rises ? latest : earliest;
  }
}
