import type { EventKind } from '../event.ts';
import type { Site, Unit } from '../../telemetry/site.ts';
import { possibleChanges, type Effort, type Possible } from './changes.ts';
import { eyesOf, type Eye, type Eyes } from './eyes.ts';
import { rankOf, type Knowable } from './knowable.ts';
import { knowablesOf } from './knowables.ts';
import { short, spacingDoubt } from './of-panel.ts';
import { HOW_SURELY, nounOf, weightOf } from './words.ts';

/** A change that would tell more, and what it would tell. */
export interface Change {
  readonly effort: Effort;
  /** the whole sentence, to be read aloud */
  readonly says: string;
  /** what it would tell, one thing each, the weightiest first */
  readonly gains: readonly string[];
}

/** A setting of the gateway costs less than something to write down, and that less than one wire. */
const COST: Readonly<Record<Effort, number>> = { reporting: 1, recording: 2, wiring: 3 };

/**
 * What would tell more. First the changes by which something is told more surely, the cheapest of them first and among
 * equals the one that gains most; then those that only see shorter things.
 */
export function rankedChanges(site: Site, unit: Unit): Change[] {
  const now = eyesOf(site, unit);
  const known = knowablesOf(now);
  return possibleChanges(site, unit)
    .map((possible) => weigh(now, known, possible))
    .filter(({ worth }) => worth > 0)
    .sort((a, b) => +b.isSurer - +a.isSurer || costOf(a) - costOf(b) || b.worth - a.worth)
    .map(({ change }) => change);
}

interface Weighed {
  readonly change: Change;
  /** what it gains, all told */
  readonly worth: number;
  readonly isSurer: boolean;
}
const costOf = ({ change }: Weighed): number => COST[change.effort];

interface Gain {
  readonly weight: number;
  readonly what: string;
  readonly how: string;
}

function weigh(now: Eyes, known: readonly Knowable[], possible: Possible): Weighed {
  const { site, effort, does } = possible;
  const then = eyesOf(
    site,
    site.units.find(({ id }) => id === now.unit.id)!,
  );
  const surerKinds = withSpacing(now, then, surer(known, knowablesOf(then)));
  const gains = [...surerKinds, ...sooner(now, then)].sort((a, b) => b.weight - a.weight);
  return {
    worth: gains.reduce((sum, { weight }) => sum + weight, 0),
    isSurer: surerKinds.length > 0,
    change: {
      effort,
      says: `${does}, and ${headline(gains)}.`,
      gains: gains.map(({ what, how }) => `${what} ${how}`),
    },
  };
}

/** The weightiest, and the next with it where the same is said of both. */
function headline([first, second]: readonly Gain[]): string {
  if (!first) return '';
  return second?.how === first.how
    ? `${first.what} and ${second.what} ${first.how}`
    : `${first.what} ${first.how}`;
}

/** Kinds that become surer: one line for a kind, for the cause that gains most. */
function surer(was: readonly Knowable[], becomes: readonly Knowable[]): Map<EventKind, Gain> {
  const found = new Map<EventKind, Gain & { readonly most: number }>();
  becomes.forEach((row, i) => {
    const old = was[i]!;
    const weight = rise(old, row) * weightOf(row.kind);
    if (weight <= 0) return;
    const before = found.get(row.kind);
    const best = before && before.most >= weight ? before : { ...toldOf(old, row), most: weight };
    found.set(row.kind, { ...best, weight: weight + (before?.weight ?? 0) });
  });
  return found;
}

function toldOf(was: Knowable, { kind, cause, known, causeKnown }: Knowable): Gain {
  const isExistence = rankOf(known) > rankOf(was.known);
  const what =
    kind === 'compressor-run' && isExistence
      ? 'each run'
      : isExistence || kind === 'compressor-run'
        ? nounOf(kind, cause)
        : `why there was ${nounOf(kind, null)}`;
  return { weight: 0, what, how: `can be told ${HOW_SURELY[isExistence ? known : causeKnown!]}` };
}

/** A cause counts by half: that it happened is worth more than why. */
const rise = (was: Knowable, becomes: Knowable): number =>
  Math.max(0, rankOf(becomes.known) - rankOf(was.known)) +
  (becomes.causeKnown && was.causeKnown
    ? Math.max(0, rankOf(becomes.causeKnown) - rankOf(was.causeKnown)) / 2
    : 0);

const SEEN: readonly (readonly [name: keyof Eyes, says: string, weight: number])[] = [
  ['run', 'a run or a pause', 2],
  ['call', 'a call break', 2],
  ['power', 'an outage or a dip', 2],
  ['alarm', 'an alarm', 1],
  ['high', 'a high-pressure trip', 1],
  ['low', 'an open low-pressure switch', 0.5],
  ['current', 'a compressor that doesn’t follow its contactor', 0.5],
];

/** What is seen that is over too soon now: by tens. */
function sooner(now: Eyes, then: Eyes): Gain[] {
  return SEEN.flatMap(([name, what, weight]) => {
    const [was, becomes] = [now[name] as Eye | null, then[name] as Eye | null];
    if (!was || !becomes || becomes.shortest >= was.shortest) return [];
    return [
      {
        weight: weight * Math.log10(was.shortest / becomes.shortest),
        what: `${what} of ${short(becomes.shortest)} s`,
        how: `can be seen, where it has to last ${short(was.shortest)} s now`,
      },
    ];
  });
}

/**
 * How far apart starts must lie to be told from starts together: the panel's minimum and what isn't known of their
 * spacing. Said in place of "starts together can be told".
 */
function withSpacing(now: Eyes, then: Eyes, surerKinds: Map<EventKind, Gain>): Gain[] {
  const [was, becomes] = [spacingDoubt(now), spacingDoubt(then)];
  if (becomes === null || (was !== null && becomes >= was)) return [...surerKinds.values()];
  const apart = Math.ceil((then.panel?.minimumStartSeparationSeconds ?? 0) + becomes - 1e-9);
  const weight = was === null ? 2 : 2 * Math.log10(was / becomes);
  const together = surerKinds.get('simultaneous-start');
  surerKinds.delete('simultaneous-start');
  const what = `starts ${apart} s apart`;
  return [{ weight: weight + (together?.weight ?? 0), what, how: 'can be told' }, ...surerKinds.values()];
}
