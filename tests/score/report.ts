import { countsOf, share, sum, table, withInterval, found, type Scores } from './counts.ts';
import { ratesOf, wilson } from './rates.ts';
import { targets } from './targets.ts';
import type { SetupTally } from './tally.ts';

/** The page that stands beside the tests, from the counts alone: no date, no machine. */
/** `share`: of each row's histories, so many were run. */
export function reportOf(scores: Scores, note: string, share = 1): string {
  return [
    '# Score of the inference',
    '',
    'Made by `npm run score`; not written by hand. Seeded labelled histories: a reference protection control in a unit around',
    'which faults are composed, three such units on one panel, and the simulated building in each of its scenarios, seen',
    'through wiring and reporting as each row says. A true event is found when one of the same kind and subject holds its',
    'start, ± 0.1 s. *Observable* is what the tool’s own statement says can be known (`shared/inference/observability.ts`).',
    'Recall is of the observable, by what was published as certain or probable; *possible* counts neither way. Intervals are',
    'Wilson’s, 95 %.',
    ...(share < 1 ? ['', `**A part of the bench: ${share} of each row’s histories.**`] : []),
    '',
    ...targets(scores),
    '',
    ...overview(scores),
    '',
    ...statement(scores),
    '',
    ...[...scores].flatMap(([name, tally]) => [...kinds(name, tally), '']),
    ...spans(scores),
    '',
    note,
  ].join('\n');
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

/** The statement itself: what it says can be known, against what was found; what it says can't, against what was claimed. */
function statement(scores: Scores): string[] {
  const rows = [...scores].map(([name, tally]) => {
    const can = sum(tally, (kind) => kind.observable);
    const said = sum(tally, (kind) => kind.saidCertain);
    return [
      name,
      can,
      withInterval(wilson(sum(tally, found), can)),
      said,
      withInterval(
        wilson(
          sum(tally, (kind) => kind.foundCertain),
          said,
        ),
      ),
      sum(tally, (kind) => kind.unforeseen),
      tally.published,
      tally.beyondCertain,
      tally.beyondProbable,
    ];
  });
  const head = [
    'wiring and reporting',
    'can be known',
    'of these found',
    'for certain',
    'of these published as certain',
    'found beyond it',
    'published',
    'certain beyond it',
    'probable beyond it',
  ];
  return ['## The statement of what can be known', '', ...table(head, rows)];
}
