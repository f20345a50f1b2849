import { ratesOf, ruleOfThree, wilson, type Rate } from './rates.ts';
import type { KindTally, SetupTally } from './tally.ts';
import { FULL_ON_CHANGE } from './setups.ts';

/** The page that stands beside the tests, from the counts alone: no date, no machine. */
export type Scores = ReadonlyMap<string, SetupTally>;

export function reportOf(scores: Scores, note: string): string {
  return [
    '# Score of the inference',
    '',
    'Made by `npm run score`; not written by hand. Seeded labelled histories: a reference protection control in a unit around',
    'which faults are composed, seen through wiring and reporting as each row says. A true event is found when one of the',
    'same kind and subject holds its start, ± 0.1 s. *Observable* is what the unit’s own statement says can be known. Recall is',
    'of the observable, by what was published as certain or probable; *possible* counts neither way. Intervals are Wilson’s, 95 %.',
    '',
    ...targets(scores),
    '',
    ...overview(scores),
    '',
    ...[...scores].flatMap(([name, tally]) => [...kinds(name, tally), '']),
    ...spans(scores),
    '',
    note,
  ].join('\n');
}

const sum = (tally: SetupTally, of: (kind: KindTally) => number): number =>
  [...tally.kinds.values()].reduce((total, kind) => total + of(kind), 0);

const found = (kind: KindTally): number => kind.certain + kind.probable;
const lost = (kind: KindTally): number => kind.missed + kind.onlyPossible;
const invented = (kind: KindTally): number => kind.falseCertain + kind.falseProbable;

const share = (rate: Rate | null): string => (rate ? rate.value.toFixed(4) : '–');
const withInterval = (rate: Rate | null): string =>
  rate ? `${rate.value.toFixed(4)} (${rate.low.toFixed(4)}–${rate.high.toFixed(4)})` : '–';

function countsOf(kinds: readonly KindTally[]) {
  const all = (of: (kind: KindTally) => number) => kinds.reduce((total, kind) => total + of(kind), 0);
  return {
    truePositives: all(found),
    falseNegatives: all(lost),
    falsePositives: all(invented),
    trueNegatives: 0,
  };
}

function table(head: readonly string[], rows: readonly (readonly (string | number)[])[]): string[] {
  return [
    `| ${head.join(' | ')} |`,
    `| ${head.map((_, i) => (i === 0 ? '---' : '---:')).join(' | ')} |`,
    ...rows.map((row) => `| ${row.join(' | ')} |`),
  ];
}

interface Target {
  readonly what: string;
  readonly got: string;
  readonly reached: boolean;
}

function targets(scores: Scores): string[] {
  const rows = targetsOf(scores).map(({ what, got, reached }) => [what, got, reached ? 'yes' : '**no**']);
  return ['## Targets', '', ...table(['target', 'measured', 'reached'], rows)];
}

export function targetsOf(scores: Scores): Target[] {
  const tallies = [...scores.values()];
  const days = tallies.reduce((total, { unitDays }) => total + unitDays, 0);
  const falsely = tallies.reduce((total, tally) => total + sum(tally, (kind) => kind.falseCertain), 0);
  const certain = tallies.reduce((total, tally) => total + sum(tally, (kind) => kind.certain), 0) + falsely;
  const bound = ruleOfThree(certain);
  const found: Target[] = [
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
    found.push({ what, got: share(rate), reached: rate.value >= 0.95 });
  }
  for (const [name, least] of RECALLS) {
    const tally = scores.get(name);
    if (tally) found.push(recallTarget(name, tally, least));
  }
  const missed = tallies.reduce((total, { spansMissed }) => total + spansMissed, 0);
  const spansSeen = tallies.reduce((total, { spans: count }) => total + count, 0);
  found.push({
    what: 'the true instant lies in every published interval',
    got: `${missed} of ${spansSeen} miss it`,
    reached: missed === 0,
  });
  return found;
}

const RECALLS: readonly (readonly [setup: string, least: number])[] = [
  [FULL_ON_CHANGE, 0.99],
  ['full, polled 1 s', 0.97],
  ['full, polled 5 s', 0.95],
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

function overview(scores: Scores): string[] {
  const rows = [...scores].map(([name, tally]) => {
    const rates = ratesOf(countsOf([...tally.kinds.values()]));
    const truths = sum(tally, (kind) => kind.truths);
    return [
      name,
      tally.unitDays.toFixed(0),
      truths,
      share(
        wilson(
          sum(tally, (kind) => kind.observable),
          truths,
        ),
      ),
      share(
        wilson(
          sum(tally, (kind) => kind.certain),
          truths,
        ),
      ),
      withInterval(rates.recall),
      withInterval(rates.precision),
      rates.f1?.toFixed(4) ?? '–',
      sum(tally, (kind) => kind.falseCertain),
      sum(tally, (kind) => kind.causeFalselyCertain),
      sum(tally, (kind) => kind.onlyPossible + kind.falsePossible),
    ];
  });
  const head = [
    'wiring and reporting',
    'unit-days',
    'true events',
    'observable',
    'certain',
    'recall',
    'precision',
    'F1',
  ];
  return [
    '## By wiring and reporting',
    '',
    ...table([...head, 'falsely certain', 'causes falsely certain', 'possible'], rows),
  ];
}

function kinds(name: string, tally: SetupTally): string[] {
  const rows = [...tally.kinds]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([kind, counts]) => {
      const rates = ratesOf(countsOf([counts]));
      return [
        kind,
        counts.truths,
        counts.observable,
        counts.certain,
        counts.probable,
        counts.onlyPossible,
        counts.missed,
        `${counts.falseCertain}/${counts.falseProbable}/${counts.falsePossible}`,
        withInterval(rates.recall),
        withInterval(rates.precision),
        rates.f1?.toFixed(4) ?? '–',
        `${counts.causeRight}/${counts.causeWrong}/${counts.causeOpen}`,
        quantiles(counts.timing),
        quantiles(counts.toldAfter),
      ];
    });
  const head = [
    'kind',
    'true',
    'observable',
    'certain',
    'probable',
    'possible',
    'missed',
    'false: certain/probable/possible',
    'recall',
    'precision',
    'F1',
    'cause: right/wrong/open',
    'timing error, s: median, 95 %',
    'told after, s: median, 95 %',
  ];
  return [`## ${name}`, '', ...table(head, rows)];
}

function quantiles(values: readonly number[]): string {
  if (values.length === 0) return '–';
  const sorted = values.toSorted((a, b) => a - b);
  const at = (part: number) => sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * part))]!;
  return `${at(0.5).toFixed(2)}, ${at(0.95).toFixed(2)}`;
}

function spans(scores: Scores): string[] {
  const rows = [...scores].map(([name, tally]) => [name, tally.spans, tally.spansMissed]);
  return [
    '## Does the true instant lie in the published interval?',
    '',
    ...table(['wiring and reporting', 'intervals', 'miss it'], rows),
  ];
}
