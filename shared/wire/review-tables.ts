import { inSeconds } from '../base/instant.ts';
import type { Bounds } from '../base/span.ts';
import type { Cell } from './csv.ts';
import type {
  PowerEventItem,
  ReviewAnswer,
  ReviewRow,
  SiteReviewAnswer,
  WireRestart,
  WireRide,
  WireRoom,
} from './review-answer.ts';
import { CAUSE_WORDS } from './cause-words.ts';
import { apartText, lastedText, percentBetween, percentText, secondText } from './review-words.ts';
import { readInstant } from './standing-wire.ts';

/**
 * The tables of a review, for the page, on paper and as CSV: cells in words for people; for machines numbers, both ends
 * of an interval, and ISO times.
 */
export const NONE = '–';

export const VERDICT_WORDS: Record<NonNullable<ReviewRow['verdict']>, string> = {
  simultaneous: 'started together',
  'cannot-be-told': 'can’t be told',
  separate: 'kept apart',
};

const RIDE_WORDS: Record<WireRide['outcome'], string> = {
  dropped: 'dropped',
  'rode-through': 'rode through',
  held: 'was off, held its delay',
  'not-running': 'wasn’t running',
  'not-known': 'not known',
};

const OUTCOME_WORDS: Readonly<Record<string, string>> = {
  waiting: 'still awaited',
  started: 'started',
  overdue: 'called, didn’t come back',
  'no-call': 'not called',
  'held-off': 'held off by design',
  'no-power': 'no control power',
  'locked-out': 'latched',
  'lost-again': 'power lost again first',
  'not-known': 'not known',
};
const outcomeText = (outcome: string): string => OUTCOME_WORDS[outcome] ?? outcome;

export const lastedOr = (bounds: Bounds | null): string =>
  bounds === null
    ? 'not known'
    : bounds[1] <= 0
      ? NONE
      : bounds[0] < 1
        ? `at most ${lastedText([bounds[1], bounds[1]])}`
        : lastedText(bounds);

const secondsText = (bounds: Bounds | null): string =>
  bounds === null
    ? NONE
    : `${bounds
        .map((s) => s.toFixed(1))
        .filter((s, i, all) => i === 0 || s !== all[0])
        .join(' to ')
        .replaceAll('-', '−')} s`;

/** How well the start was as planned: `+0.1 s`; an interval around nothing is `as planned`. */
const deviationText = (bounds: Bounds | null): string => {
  if (bounds === null) return NONE;
  return bounds[0] <= 0 && bounds[1] >= 0
    ? `as planned (±${Math.max(-bounds[0], bounds[1]).toFixed(1)} s)`
    : secondsText(bounds);
};

export function restartText(seconds: Bounds | null): string {
  if (seconds === null) return NONE;
  const [first, last] = seconds.map(Math.round) as [number, number];
  return first === last ? `${first} s` : `${first}–${last} s`;
}

export function highestText(highest: ReviewRow['highest']): string {
  if (!highest) return 'not known';
  return `${highest.value.toFixed(1)} °C${highest.limit === null ? '' : ` of ${highest.limit}`}`;
}

const marginText = ({ margin }: Pick<WireRide, 'margin'>): string => {
  if (!margin) return 'not known';
  const volts = [...new Set(margin.volts.map((v) => Math.round(v)))].join('–');
  const words = margin.by === 'trip' ? 'drops below' : 'may drop below';
  return `${words} ${volts} V, ${percentBetween(margin.perUnit)} of the line${margin.known === 'assumed' ? ' (trip assumed)' : ''}`;
};

function susceptibilityText({ susceptibility }: Pick<WireRide, 'susceptibility'>): string {
  if (!susceptibility || susceptibility.events === 0) return 'no measured dip yet';
  const { events, droppedAt, rodeAt, level, contradicts } = susceptibility;
  const of = `${events} ${events === 1 ? 'dip' : 'dips'}`;
  if (contradicts)
    return `no one level (${of}): dropped at ${percentBetween(droppedAt!)}, rode through ${percentBetween(rodeAt!)}`;
  if (!droppedAt) return `rode through ${percentBetween(rodeAt!)} (${of})`;
  if (!rodeAt) return `dropped at ${percentBetween(droppedAt)} (${of})`;
  return `drops below a level in ${percentBetween(level!)} (${of})`;
}

const becauseText = (because: string | null): string =>
  because === null ? '' : (CAUSE_WORDS[because as keyof typeof CAUSE_WORDS] ?? because);

export interface CsvTable {
  readonly columns: readonly string[];
  readonly rows: readonly (readonly Cell[])[];
}

const both = (bounds: Bounds | null): Cell[] => (bounds === null ? [null, null] : [bounds[0], bounds[1]]);
const pair = (name: string): string[] => [`${name}_least_s`, `${name}_most_s`];

export const eventsTable = (items: readonly PowerEventItem[]): CsvTable => ({
  columns: [
    'id',
    'kind',
    'title',
    'start_earliest',
    'start_latest',
    'end',
    'settled',
    'lowest_per_unit',
    'sites',
  ],
  rows: items.map((item) => [
    item.id,
    item.kind,
    item.title,
    item.start.earliest,
    item.start.latest,
    item.end,
    item.settled,
    item.lowest,
    item.sites.map(({ id }) => id).join(' '),
  ]),
});

export const sitesTable = ({ rows }: ReviewAnswer): CsvTable => ({
  columns: [
    ...['site', 'name', 'start_latest', 'end', 'outages'],
    ...pair('away'),
    ...pair('generator'),
    ...pair('restart'),
    ...pair('without_cooling'),
    ...['highest_celsius', 'highest_room', 'limit_celsius', 'verdict', 'to_do', 'missing_gateways'],
  ],
  rows: rows.map((row) => [
    ...[row.site, row.name, row.start.latest, row.end, row.outages],
    ...both(row.awaySeconds),
    ...both(row.generatorSeconds),
    ...both(row.restartSeconds),
    ...both(row.withoutCoolingSeconds),
    row.highest?.value ?? null,
    row.highest?.name ?? null,
    row.highest?.limit ?? null,
    row.verdict,
    row.todo.map(({ says }) => says).join('; '),
    row.missing.join(' '),
  ]),
});

export const SITE_TABLES = ['units', 'restarts', 'spacings', 'rooms', 'summary'] as const;
export type SiteTable = (typeof SITE_TABLES)[number];

const TABLES: Record<SiteTable, (answer: SiteReviewAnswer) => CsvTable> = {
  units: ({ units }) => ({
    columns: [
      ...['unit', 'name', 'outcome', 'because', 'drops', 'restarted_earliest', 'restarted_latest'],
      ...pair('without_cooling'),
      ...['control_ratio', 'drops_below_least_v', 'drops_below_most_v', 'measured_dips', 'measured_drops'],
    ],
    rows: units.map((ride) => [
      ...[ride.unit, ride.name, ride.outcome, ride.because, ride.drops],
      ...[ride.restarted?.earliest ?? null, ride.restarted?.latest ?? null],
      ...both(ride.withoutCoolingSeconds),
      ...[ride.margin?.ratio ?? null, ...both(ride.margin?.volts ?? null)],
      ...[ride.susceptibility?.events ?? null, ride.susceptibility?.drops ?? null],
    ]),
  }),
  restarts: ({ restarts }) => ({
    columns: [
      ...['panel', 'power_back', 'supply', 'unit', 'name', 'outcome', 'set_by'],
      ...[...pair('planned'), ...pair('started'), ...pair('deviation')],
    ],
    rows: restarts.flatMap(({ panel, back, supply, units }) =>
      units.map((one) => [
        ...[panel, back.latest, supply, one.unit, one.name, one.outcome, one.setBy],
        ...[...both(one.plannedSeconds), ...both(one.startedSeconds), ...both(one.deviationSeconds)],
      ]),
    ),
  }),
  spacings: ({ restarts }) => ({
    columns: [
      ...['panel', 'power_back', 'first', 'second'],
      ...pair('spacing'),
      ...['minimum_s', 'verdict', 'telling_period_s'],
    ],
    rows: restarts.flatMap(({ panel, back, minimumSeconds, spacings }) =>
      spacings.map((one) => [
        ...[panel, back.latest, one.first, one.second],
        ...both(one.seconds),
        ...[minimumSeconds, one.verdict, one.tellingPeriodSeconds],
      ]),
    ),
  }),
  rooms: ({ rooms }) => ({
    columns: ['space', 'name', ...pair('without_cooling'), 'highest_celsius', 'highest_at', 'limit_celsius'],
    rows: rooms.map((room) => [
      ...[room.space, room.name],
      ...both(room.withoutCoolingSeconds),
      ...[room.highest?.value ?? null, room.highest?.t ?? null, room.highest?.limit ?? null],
    ]),
  }),
  summary: ({ sentences }) => ({
    columns: ['sentence', 'evidence'],
    rows: sentences.map(({ text, evidence }) => [text, evidence.join(' ')]),
  }),
};

export const siteTable = (answer: SiteReviewAnswer, table: SiteTable): CsvTable => TABLES[table](answer);

/** Rows of a restart for people: unit, planned, started, deviation, what set it. */
export const restartCells = ({ units }: WireRestart): string[][] =>
  units.map((one) => [
    one.name,
    outcomeText(one.outcome),
    secondsText(one.plannedSeconds),
    secondsText(one.startedSeconds),
    one.setBy === 'call' ? 'set by its call' : deviationText(one.deviationSeconds),
  ]);

export const spacingCells = ({ spacings }: WireRestart): string[][] =>
  spacings.map((one) => [one.names, apartText(one.seconds), spacingVerdictText(one)]);

function spacingVerdictText({ verdict, tellingPeriodSeconds }: WireRestart['spacings'][number]): string {
  if (verdict !== 'cannot-be-told' || tellingPeriodSeconds === null) return VERDICT_WORDS[verdict];
  const period =
    tellingPeriodSeconds > 0
      ? `polling each ${tellingPeriodSeconds} s would`
      : 'only reporting on change would';
  return `${VERDICT_WORDS[verdict]}: ${period}`;
}

export const rideCells = (ride: WireRide, zone: string): string[] => [
  ride.name,
  [RIDE_WORDS[ride.outcome], becauseText(ride.because)].filter(Boolean).join(': '),
  restartedText(ride, zone),
  ride.outcome === 'not-known' ? 'not known' : lastedOr(ride.withoutCoolingSeconds),
  marginText(ride),
  susceptibilityText(ride),
];

function restartedText({ restarted, stillOff, waits }: WireRide, zone: string): string {
  if (restarted) return secondText(readInstant(restarted.latest), zone);
  return waits ? 'waits' : stillOff ? 'still off' : NONE;
}

export const roomCells = (room: WireRoom, zone: string): string[] => [
  room.name,
  lastedOr(room.withoutCoolingSeconds),
  room.highest
    ? `${highestText(room.highest)} at ${secondText(readInstant(room.highest.t), zone).slice(0, 5)}`
    : 'not known',
];

export const siteCells = (row: ReviewRow): string[] => [
  row.name,
  awayText(row),
  lastedOr(row.generatorSeconds),
  restartText(row.restartSeconds),
  lastedOr(row.withoutCoolingSeconds),
  highestText(row.highest),
  row.verdict === null ? NONE : VERDICT_WORDS[row.verdict],
  row.todo.length === 0 ? NONE : row.todo.map(({ says }) => says).join('; '),
];

export const awayText = ({ awaySeconds, outages }: Pick<ReviewRow, 'awaySeconds' | 'outages'>): string =>
  awaySeconds[1] <= 0 ? NONE : `${lastedText(awaySeconds)}${outages > 1 ? `, ${outages} ×` : ''}`;

/** How long the whole took, for the list; null: it isn’t over. */
export const lengthOf = ({ start, end }: Pick<PowerEventItem, 'start' | 'end'>): string =>
  end === null
    ? 'not over'
    : lastedText([
        Math.max(0, inSeconds(readInstant(end) - readInstant(start.latest))),
        Math.max(0, inSeconds(readInstant(end) - readInstant(start.latest))),
      ]);

export const lowestText = ({ lowest }: Pick<PowerEventItem, 'lowest'>): string =>
  lowest === null ? 'not measured' : percentText(lowest);
