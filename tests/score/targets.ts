import { share, sum, withInterval, found, table, type Scores } from './counts.ts';
import { ruleOfThree, wilson } from './rates.ts';
import type { SetupTally } from './tally.ts';
import { FULL_ON_CHANGE } from './setups.ts';

/** What the score is to reach, and whether it does. */
interface Target {
  readonly what: string;
  readonly got: string;
  readonly reached: boolean;
}

export function targets(scores: Scores): string[] {
  const rows = targetsOf(scores).map(({ what, got, reached }) => [what, got, reached ? 'yes' : '**no**']);
  return ['## Targets', '', ...table(['target', 'measured', 'reached'], rows)];
}

export function targetsOf(scores: Scores): Target[] {
  const tallies = [...scores.values()];
  const days = tallies.reduce((total, { unitDays }) => total + unitDays, 0);
  const falsely = tallies.reduce((total, tally) => total + sum(tally, (kind) => kind.falseCertain), 0);
  const certain = tallies.reduce((total, tally) => total + sum(tally, (kind) => kind.certain), 0) + falsely;
  const bound = ruleOfThree(certain);
  const all: Target[] = [
    { what: 'at least 5,000 unit-days', got: days.toFixed(0), reached: days >= 5_000 },
    {
      what: 'no false event published as certain',
      got:
        falsely === 0
          ? `0 of ${certain}; fewer than ${(bound! * 1e6).toFixed(1)} in a million, by the rule of three`
          : `${falsely} of ${certain}`,
      reached: falsely === 0,
    },
    causeTarget(tallies),
  ];
  const full = scores.get(FULL_ON_CHANGE);
  if (full) {
    const rate = wilson(
      sum(full, (kind) => kind.certain),
      sum(full, (kind) => kind.truths),
    )!;
    const what = `${FULL_ON_CHANGE}: at least 0.95 of true events published as certain`;
    all.push({ what, got: share(rate), reached: rate.value >= 0.95 });
  }
  for (const [name, least] of RECALLS) {
    const tally = scores.get(name);
    if (tally) all.push(recallTarget(name, tally, least));
  }
  const missed = tallies.reduce((total, { spansMissed }) => total + spansMissed, 0);
  const spansSeen = tallies.reduce((total, { spans: count }) => total + count, 0);
  all.push({
    what: 'the true instant lies in every published interval',
    got: `${missed} of ${spansSeen} miss it`,
    reached: missed === 0,
  });
  return [...all, ...ofStatement(tallies), ...ofOrder(tallies)];
}

const total = (tallies: readonly SetupTally[], of: (tally: SetupTally) => number): number =>
  tallies.reduce((all, tally) => all + of(tally), 0);

/** The tool's own statement of what can be known: held, and not exceeded. */
function ofStatement(tallies: readonly SetupTally[]): Target[] {
  const can = total(tallies, (tally) => sum(tally, (kind) => kind.observable));
  const seen = total(tallies, (tally) => sum(tally, found));
  const said = total(tallies, (tally) => sum(tally, (kind) => kind.saidCertain));
  const kept = total(tallies, (tally) => sum(tally, (kind) => kind.foundCertain));
  const published = total(tallies, (tally) => tally.published);
  const beyond = total(tallies, (tally) => tally.beyondCertain);
  return [
    {
      what: 'what the statement says can be known is found: at least 0.97',
      got: withInterval(wilson(seen, can)),
      reached: seen >= 0.97 * can,
    },
    {
      what: 'what it says can be known for certain is published as certain: at least 0.95',
      got: withInterval(wilson(kept, said)),
      reached: kept >= 0.95 * said,
    },
    {
      what: 'what it says can’t be known for certain is never published as certain',
      got: `${beyond} of ${published}`,
      reached: beyond === 0,
    },
  ];
}

function ofOrder(tallies: readonly SetupTally[]): Target[] {
  const together = total(tallies, (tally) => tally.together);
  const falsely = total(tallies, (tally) => tally.falselyTogether);
  const late = total(tallies, (tally) => tally.late);
  const unequal = total(tallies, (tally) => tally.lateUnequal);
  return [
    {
      what: 'no certain simultaneous start whose true spacing isn’t below the limit',
      got: `${falsely} of ${together}`,
      reached: falsely === 0,
    },
    {
      what: 'delivered late and in another order, a history comes to the same events',
      got: `${unequal} of ${late} don’t`,
      reached: unequal === 0,
    },
  ];
}

const RECALLS: readonly (readonly [setup: string, least: number])[] = [
  [FULL_ON_CHANGE, 0.99],
  ['full, polled 1 s', 0.97],
  ['full, polled 5 s', 0.95],
  ['panel of three with line voltage, on change', 0.99],
  ['panel of three, polled 1 s', 0.97],
  ['panel of three, polled 5 s', 0.95],
];

function recallTarget(name: string, tally: SetupTally, least: number): Target {
  const rates = [...tally.kinds]
    .filter(([, kind]) => kind.observable > 0)
    .map(([kind, counts]) => ({ kind, rate: wilson(found(counts), counts.observable)!.value }))
    .sort((a, b) => a.rate - b.rate);
  const below = rates.filter(({ rate }) => rate < least);
  const said = (below.length > 0 ? below : rates.slice(0, 1)).map(
    ({ kind, rate }) => `${kind} ${rate.toFixed(4)}`,
  );
  return {
    what: `${name}: recall of every kind at least ${least}`,
    got: below.length > 0 ? said.join(', ') : `least: ${said[0]}`,
    reached: below.length === 0,
  };
}

function causeTarget(tallies: readonly SetupTally[]): Target {
  const lockouts = tallies.flatMap(({ kinds: all }) =>
    [...all]
      .filter(([kind]) => kind === 'soft-lockout' || kind === 'hard-lockout')
      .map(([, counts]) => counts),
  );
  const right = lockouts.reduce((total, { causeRight }) => total + causeRight, 0);
  const wrong = lockouts.reduce((total, { causeWrong }) => total + causeWrong, 0);
  const rate = wilson(right, right + wrong);
  return {
    what: 'cause right in at least 0.98 of certain and probable lockouts',
    got: withInterval(rate),
    reached: (rate?.value ?? 0) >= 0.98,
  };
}
