import type { MeasureId } from '../alarms/performance/measures.ts';
import { seconds } from '../base/instant.ts';
import { ALARM_TERMS } from './alarm-sentences.ts';
import { spokenLength } from './durations.ts';
import { readInstant } from './standing-wire.ts';
import type { PerformanceAnswer, WireMeasure, WireSuggestion } from './performance-answer.ts';

/** The measures in words: what is counted, what it should be and who says so, and what it is. */
interface MeasureWords {
  readonly name: string;
  /** null: none is given */
  readonly target: string | null;
  readonly source: string;
  readonly says: (value: number, beside: Readonly<Record<string, number>>) => string;
}

const STANDARD = 'ISA-18.2-2016 and EEMUA 191, read in secondary texts';
const OURS = 'no target in the standards; shown to be looked at';

const figure = (value: number): string =>
  value === 0
    ? '0'
    : value < 0.1
      ? value.toPrecision(1)
      : value < 10
        ? String(Math.round(value * 10) / 10)
        : String(Math.round(value));
const percent = (share: number): string => `${figure(share * 100)} %`;
const rate =
  (piece: string) =>
  (value: number, { most = 0 }: Readonly<Record<string, number>>): string =>
    `${figure(value)} on average, ${most} in the worst ${piece}`;
const alarms = (count: number): string => `${count} ${count === 1 ? 'alarm' : 'alarms'}`;
const ofSources = (value: number, { sources = 0 }: Readonly<Record<string, number>>): string =>
  value === 0 ? 'none' : `${alarms(value)} of ${sources} ${sources === 1 ? 'source' : 'sources'}`;
const andNow = (value: number, { now = 0 }: Readonly<Record<string, number>>): string =>
  `${value} ${value === 1 ? 'time' : 'times'}, ${now} now`;

export const MEASURE_WORDS: Record<MeasureId, MeasureWords> = {
  'a-day': {
    name: 'Alarms a day',
    target: 'about 144 acceptable, 288 manageable (6 and 12 an hour)',
    source: STANDARD,
    says: rate('day'),
  },
  'an-hour': {
    name: 'Alarms an hour',
    target: 'about 6 acceptable, 12 manageable',
    source: STANDARD,
    says: rate('hour'),
  },
  'ten-minutes': {
    name: 'Alarms in 10 min',
    target: 'about 1 acceptable, 2 manageable',
    source: STANDARD,
    says: rate('10 min'),
  },
  floods: {
    name: 'Floods: more than 10 alarms in 10 min, until fewer than 5',
    target: null,
    source: STANDARD,
    says: (value, { most = 0 }) => (value === 0 ? 'none' : `${value}, the largest of ${alarms(most)}`),
  },
  'in-flood': { name: 'Time in flood', target: 'under 1 %', source: STANDARD, says: percent },
  chattering: {
    name: 'Chattering: three or more of one source within 60 s',
    target: 'none',
    source: STANDARD,
    says: ofSources,
  },
  fleeting: { name: 'Fleeting: over within 10 s', target: 'none', source: STANDARD, says: ofSources },
  stale: {
    name: 'Stale: in the list for more than 24 h',
    target: 'fewer than 5 on any day',
    source: STANDARD,
    says: (value, { now = 0 }) => `at most ${value} on one day, ${now} now`,
  },
  severities: {
    name: 'Severities',
    target: 'about 80 % minor, 15 % major, 5 % critical',
    source: STANDARD,
    says: (_, { minor = 0, major = 0, critical = 0 }) =>
      `${percent(minor)} minor, ${percent(major)} major, ${percent(critical)} critical`,
  },
  'worst-ten': {
    name: 'Share of the ten that asked most',
    target: null,
    source: `${STANDARD}; tells nothing below 200 alarm sources`,
    says: percent,
  },
  shelved: { name: 'Shelved', target: null, source: OURS, says: andNow },
  'out-of-service': { name: 'Taken out of service', target: null, source: OURS, says: andNow },
  suppressed: {
    name: 'Suppressed by design: explained by another, or worked on',
    target: null,
    source: OURS,
    says: andNow,
  },
  unauthorised: {
    name: 'Hidden without a name and a reason',
    target: '0',
    source: STANDARD,
    says: String,
  },
  'to-accept': {
    name: 'Time until somebody accepted',
    target: null,
    source: OURS,
    says: (value, { longest = 0, never = 0, accepted = 0 }) =>
      `half of ${accepted} within ${spokenLength(value)}, the longest ${spokenLength(longest)}; ${never} not accepted`,
  },
};

const NOT_TOLD: Partial<Record<MeasureId, (beside: Readonly<Record<string, number>>) => string>> = {
  'worst-ten': ({ sources = 0 }) => `n/a: ${sources} alarm sources`,
  severities: () => 'n/a: no alarms',
  'to-accept': ({ never = 0 }) => (never === 0 ? 'n/a: no alarms' : `none of ${never} was accepted`),
};

export function measureText({ id, value, beside }: Pick<WireMeasure, 'id' | 'value' | 'beside'>): string {
  if (value === null) return NOT_TOLD[id]?.(beside) ?? 'n/a';
  return MEASURE_WORDS[id].says(value, beside);
}

export const VERDICT_WORDS: Record<WireMeasure['verdict'], string> = {
  within: 'within it',
  manageable: 'manageable',
  beyond: 'beyond it',
  'no-target': '',
};

const DAY = seconds(86_400);

/** Do alarms here ask too much of people? The page's first line. */
export function performanceLine({ asked, measures, from, to }: PerformanceAnswer): string {
  const days = Math.round((readInstant(to) - readInstant(from)) / DAY);
  const span = `in ${days} ${days === 1 ? 'day' : 'days'}`;
  if (asked === 0) return `No alarm asked for anybody ${span}.`;
  const beyond = measures.filter(({ verdict }) => verdict === 'beyond').map(({ id }) => SHORT_WORDS[id]);
  const head = `${alarms(asked)} asked for somebody ${span}`;
  return beyond.length === 0
    ? `${head}: nothing is beyond its target.`
    : `${head}; beyond target: ${listed(beyond)}.`;
}

const SHORT_WORDS: Record<MeasureId, string> = {
  'a-day': 'alarms a day',
  'an-hour': 'alarms an hour',
  'ten-minutes': 'alarms in 10 min',
  floods: 'floods',
  'in-flood': 'time in flood',
  chattering: 'chattering',
  fleeting: 'fleeting alarms',
  stale: 'stale alarms',
  severities: 'severities',
  'worst-ten': 'the worst ten',
  shelved: 'what is shelved',
  'out-of-service': 'what is out of service',
  suppressed: 'what is suppressed',
  unauthorised: 'what was hidden without a reason',
  'to-accept': 'time to accept',
};

const listed = (words: readonly string[]): string =>
  words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`;

const DELAY_WORDS: Record<WireSuggestion['field'], string> = {
  onDelaySeconds: 'on-delay',
  offDelaySeconds: 'off-delay',
};

/** `Room 12, no control power: an on-delay of 90 s (now 60 s) would have avoided 6 of 8.` */
export function suggestionText(one: WireSuggestion): string {
  const { name, rule, field, now, then, of, avoided, longestAvoided, avoidedElsewhere, unit } = one;
  const term = ALARM_TERMS[rule];
  const head = `${name}, ${lowered(term)}: an ${DELAY_WORDS[field]} of ${then} s (now ${now} s) would have avoided ${avoided} of ${of}.`;
  const price =
    field === 'onDelaySeconds'
      ? ` ${of === avoided ? 'Any other' : 'The others'} would have been raised ${then - now} s later.`
      : ` Each would have stood ${then - now} s longer.`;
  const stood = longestAvoided === null ? '' : ` The longest of them stood ${spokenLength(longestAvoided)}.`;
  const others =
    unit === null && avoidedElsewhere > 0 ? ` Of others at the site, ${avoidedElsewhere} more.` : '';
  return `${head}${stood}${price}${others}`;
}

const lowered = (term: string): string => `${term[0]?.toLowerCase()}${term.slice(1)}`;
