import { parseMonth } from '../report/month.ts';
import { CAUSE_WORDS } from './cause-words.ts';
import type { EventCause } from '../inference/event.ts';
import type { ReportAnswer, WireReportUnit, WireTotals } from './report-answer.ts';

/** A month in words, for the page, the paper and the mail: the first line answers whether the rooms were cooled. */
const MONTHS = [
  'January',
  'February',
  'March',
  'April',
  'May',
  'June',
  'July',
  'August',
  'September',
  'October',
  'November',
  'December',
] as const;

/** `October 2026`; as it stands where it is no month. */
export function monthName(text: string): string {
  const month = parseMonth(text);
  return month ? `${MONTHS[month.month - 1]} ${month.year}` : text;
}

const bareName = (text: string): string => monthName(text).split(' ')[0]!;

/** `99.98 %`: as many figures as keep it from reading 100 while something was lost. */
export function availabilityText(share: number | null): string {
  if (share === null) return 'can’t be told';
  if (share === 1) return '100 %';
  for (const digits of [1, 2, 3]) {
    const text = (share * 100).toFixed(digits);
    if (Number(text) < 100) return `${text} %`;
  }
  return 'over 99.999 %';
}

const several = (count: number, one: string, many = `${one}s`): string =>
  `${count === 0 ? 'no' : count} ${count === 1 ? one : many}`;

/** `1 more than in September`, `as many as in September`. */
const compared = (now: number, before: number, month: string): string =>
  now === before
    ? `as many as in ${month}`
    : `${Math.abs(now - before)} ${now > before ? 'more' : 'fewer'} than in ${month}`;

/** `Cooling was available 99.2 % of October in 60 rooms; 3 hard lockouts, 1 more than in September.` */
export function reportLine({ month, isOver, totals, before }: ReportAnswer): string {
  const when = isOver ? bareName(month) : `${bareName(month)} so far`;
  if (totals.spaces === 0) return `Nothing is set up to be reported of in ${when}.`;
  const told = totals.spaces - totals.untold;
  const rooms = several(told, 'room');
  const cooled =
    totals.availability === null
      ? `Whether cooling was available in ${when} can’t be told: too little was heard`
      : `Cooling was available ${availabilityText(totals.availability)} of ${when} in ${rooms}`;
  const lockouts = several(totals.hardLockouts.all, 'hard lockout');
  const than =
    before.totals === null
      ? ''
      : `, ${compared(totals.hardLockouts.all, before.totals.hardLockouts.all, bareName(before.month))}`;
  return `${cooled}; ${lockouts}${than}.`;
}

/** What the first line leans on and leaves out. */
export function reportCaveat({ totals, known, whole }: ReportAnswer): string {
  const heard =
    known === null ? 'Nothing was heard.' : `${availabilityText(known)} of the time was listened to.`;
  const untold = totals.untold > 0 ? ` Of ${several(totals.untold, 'room')} it can’t be told.` : '';
  const more = whole ? '' : ' There are more sites than are reported at once: ask for each.';
  return `${heard}${untold} Possible events aren’t counted.${more}`;
}

/** Everything that is counted, in the order in which it is read; what it was the month before stands beside. */
export const REPORT_ROWS: readonly {
  readonly name: string;
  readonly of: (totals: WireTotals) => string;
}[] = [
  { name: 'Cooling available', of: ({ availability }) => availabilityText(availability) },
  { name: 'Room hours without cooling', of: ({ lostSeconds }) => hoursText(lostSeconds) },
  { name: 'Room hours above the limit', of: ({ hotSeconds }) => hoursText(hotSeconds) },
  { name: 'Compressor hours', of: ({ runSeconds }) => hoursText(runSeconds) },
  { name: 'Compressor starts', of: ({ starts }) => String(starts) },
  { name: 'Short cycles', of: ({ shortCycles }) => String(shortCycles) },
  { name: 'Soft lockouts', of: ({ softLockouts }) => withCauses(softLockouts) },
  { name: 'Hard lockouts', of: ({ hardLockouts }) => withCauses(hardLockouts) },
  { name: 'Undervoltage holds', of: ({ undervoltageHolds }) => String(undervoltageHolds) },
  {
    name: 'Failed starts and stuck contactors',
    of: ({ contactorFaults }) => String(contactorFaults),
  },
  { name: 'Voltage sags', of: ({ supply }) => withClasses(supply.sags) },
  { name: 'Voltage swells', of: ({ supply }) => withClasses(supply.swells) },
  { name: 'Interruptions', of: ({ supply }) => withClasses(supply.interruptions) },
  {
    name: 'Returns of power that units waited for',
    of: ({ supply: { restarts, together } }) =>
      together > 0 ? `${restarts} (${together} with starts too close together)` : String(restarts),
  },
];

/** A row of the month before: nothing is told of a month in which nothing was heard. */
export const earlierText = (row: (typeof REPORT_ROWS)[number], { totals }: ReportAnswer['before']): string =>
  totals === null ? 'nothing was heard' : row.of(totals);

/** `12.5 h`; `0 h`; hours of thousands without decimals. */
export const hoursText = (seconds: number): string => {
  const hours = seconds / 3600;
  if (hours === 0) return '0 h';
  if (hours < 0.1) return 'under 0.1 h';
  return `${hours < 100 ? Math.round(hours * 10) / 10 : Math.round(hours)} h`;
};

function withCauses({ all, causes }: WireTotals['hardLockouts']): string {
  const parts = Object.entries(causes).map(
    ([cause, count]) => `${count} ${CAUSE_WORDS[cause as EventCause] ?? cause}`,
  );
  return withParts(all, parts);
}

function withClasses(classes: Readonly<Record<string, number>>): string {
  const all = Object.values(classes).reduce((sum, count) => sum + count, 0);
  return withParts(
    all,
    Object.entries(classes).map(([of, count]) => `${count} ${of === '' ? 'of no class' : of}`),
  );
}

const withParts = (all: number, parts: readonly string[]): string =>
  all === 0 ? '0' : `${all} (${parts.toSorted().join(', ')})`;

/** Why a unit stands among the worst: `2 hard lockouts, 5 soft lockouts`. */
export function worstText(unit: WireReportUnit): string {
  const parts: readonly (readonly [number, string])[] = [
    [unit.hardLockouts.all, 'hard lockout'],
    [unit.contactorFaults, 'failed start or stuck contactor'],
    [unit.softLockouts.all, 'soft lockout'],
    [unit.undervoltageHolds, 'undervoltage hold'],
    [unit.shortCycles, 'short cycle'],
  ];
  return parts
    .filter(([count]) => count > 0)
    .map(([count, name]) =>
      name.startsWith('failed') && count > 1
        ? `${count} failed starts or stuck contactors`
        : several(count, name),
    )
    .join(', ');
}
