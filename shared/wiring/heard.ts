import { inSeconds, parseInstant, type Instant } from '../base/instant.ts';

/**
 * What is known of a value that is heard and that no point maps: where it comes from, how often, and what it is like. Kept
 * small whatever comes, and joined from parts, so that several ingests may each hear a share of it.
 */
export interface HeardValue {
  /** an MQTT topic, or the name of a Sparkplug metric: `<group>/<edge>/<device>/<metric>` */
  readonly topic: string;
  readonly kind: 'topic' | 'sparkplug';
  /** the value's place in the message (RFC 6901) */
  readonly pointer: string;
  /** where the message says when it was; null: it doesn't, or the value itself does */
  readonly time: string | null;
  readonly count: number;
  readonly firstAt: Instant;
  readonly lastAt: Instant;
  /** as it was sent */
  readonly last: string;
  readonly form: HeardForm;
  /** of those that are numbers, or read as on and off; null: none was */
  readonly numbers: HeardNumbers | null;
}

/** `contact`: nothing but 0 and 1, or words for them; `time`: instants, which are no quantity. */
export type HeardForm = 'contact' | 'number' | 'text' | 'time';

export interface HeardNumbers {
  readonly count: number;
  readonly sum: number;
  readonly least: number;
  readonly most: number;
  /** the ways from value to value, added up */
  readonly travel: number;
  readonly last: number;
  /** times that it was another than before */
  readonly steps: number;
  /** the newest of those, oldest first, at most `CHANGES_KEPT` */
  readonly changes: readonly (readonly [t: Instant, value: number])[];
}

const CHANGES_KEPT = 40;
const LAST_LETTERS = 80;

export const heardKey = ({ topic, pointer }: Pick<HeardValue, 'topic' | 'pointer'>): string =>
  `${topic} ${pointer}`;

/** What one value in one message tells. */
export function heardOnce(
  source: Pick<HeardValue, 'topic' | 'kind' | 'pointer' | 'time'>,
  value: unknown,
  at: Instant,
): HeardValue {
  const read = readValue(value);
  const text = typeof value === 'string' ? value : (JSON.stringify(value) ?? '');
  return {
    ...source,
    ...{ count: 1, firstAt: at, lastAt: at, form: read.form },
    last: text.slice(0, LAST_LETTERS),
    numbers: read.number === null ? null : numbersOf(read.number, at),
  };
}

const numbersOf = (value: number, at: Instant): HeardNumbers => ({
  ...{ count: 1, sum: value, least: value, most: value, travel: 0, last: value, steps: 0 },
  changes: [[at, value]],
});

const ON = new Set(['on', 'closed', 'true', 'active']);
const OFF = new Set(['off', 'open', 'false', 'inactive']);
/** numbers beyond this are times or counters of something else: no temperature, voltage or current is */
const LARGEST = 1e6;

function readValue(value: unknown): { readonly form: HeardForm; readonly number: number | null } {
  if (typeof value === 'boolean') return { form: 'contact', number: value ? 1 : 0 };
  if (typeof value === 'number') {
    if (value === 0 || value === 1) return { form: 'contact', number: value };
    return Math.abs(value) > LARGEST ? { form: 'time', number: null } : { form: 'number', number: value };
  }
  if (typeof value !== 'string') return { form: 'text', number: null };
  const word = value.trim().toLowerCase();
  if (ON.has(word)) return { form: 'contact', number: 1 };
  if (OFF.has(word)) return { form: 'contact', number: 0 };
  if (word !== '' && Number.isFinite(Number(word))) return readValue(Number(word));
  return { form: parseInstant(value) === null ? 'text' : 'time', number: null };
}

/** Two parts of what was heard of one source; the later one goes on from the earlier one. */
export function joinHeard(a: HeardValue, b: HeardValue): HeardValue {
  const [before, after] = a.lastAt <= b.lastAt ? [a, b] : [b, a];
  return {
    ...after,
    count: a.count + b.count,
    firstAt: Math.min(a.firstAt, b.firstAt),
    form: joinForms(a.form, b.form),
    numbers:
      before.numbers && after.numbers
        ? joinNumbers(before.numbers, after.numbers)
        : (after.numbers ?? before.numbers),
  };
}

function joinForms(a: HeardForm, b: HeardForm): HeardForm {
  if (a === b) return a;
  const forms = new Set([a, b]);
  return forms.has('contact') && forms.has('number') ? 'number' : 'text';
}

function joinNumbers(before: HeardNumbers, after: HeardNumbers): HeardNumbers {
  const [first, ...rest] = after.changes;
  const isChange = first !== undefined && first[1] !== before.last;
  const seam = first === undefined ? 0 : Math.abs(first[1] - before.last);
  return {
    count: before.count + after.count,
    sum: before.sum + after.sum,
    least: Math.min(before.least, after.least),
    most: Math.max(before.most, after.most),
    travel: before.travel + after.travel + (after.steps < after.changes.length ? seam : 0),
    last: after.last,
    steps: before.steps + after.steps + (isChange && after.steps < CHANGES_KEPT ? 1 : 0),
    changes: [...before.changes, ...(isChange && first ? [first] : []), ...rest].slice(-CHANGES_KEPT),
  };
}

/** Values a minute while it was heard; null: it was heard once. */
export function ratePerMinute({ count, firstAt, lastAt }: HeardValue): number | null {
  const length = inSeconds(lastAt - firstAt);
  return count < 2 || length <= 0 ? null : ((count - 1) / length) * 60;
}

/** Values in one message that are looked at, and how deep. */
const VALUES = 40;
const DEEP = 5;
const LISTED = 8;

/** The values in a message with their places, the first 40 of them; what is nested deeper than five levels is passed over. */
export function valuesIn(body: unknown): (readonly [pointer: string, value: unknown])[] {
  const found: (readonly [string, unknown])[] = [];
  const look = (value: unknown, pointer: string, depth: number): void => {
    if (found.length >= VALUES || value === null || value === undefined) return;
    if (typeof value !== 'object') return void found.push([pointer, value]);
    const own = sampleValue(value);
    if (own !== undefined) return void found.push([pointer, own]);
    if (depth >= DEEP) return;
    const entries = Array.isArray(value) ? [...value.slice(0, LISTED).entries()] : Object.entries(value);
    for (const [name, inner] of entries) look(inner, `${pointer}/${escaped(String(name))}`, depth + 1);
  };
  look(body, '', 0);
  return found;
}

/** A sample or a series in one of the forms that are taken (contract 1.1) is one value: its last. */
function sampleValue(value: object): unknown {
  if (!('v' in value) || !('t' in value || 't0' in value)) return undefined;
  return Array.isArray(value.v) ? (value.v as unknown[]).at(-1) : value.v;
}

const TIME_NAMES = new Set(['t', 'ts', 'time', 'timestamp', 'date', 'datetime', 'zeit']);

/** Where a message says when it was: a time under one of the usual names, the one least deep. */
export function timeIn(values: readonly (readonly [pointer: string, value: unknown])[]): string | null {
  const isTime = ([pointer, value]: readonly [string, unknown]) =>
    TIME_NAMES.has(pointer.slice(pointer.lastIndexOf('/') + 1).toLowerCase()) &&
    readValue(value).form === 'time';
  const found = values.filter(isTime).map(([pointer]) => pointer);
  const depth = (pointer: string) => pointer.split('/').length;
  return found.reduce<string | null>(
    (best, one) => (best === null || depth(one) < depth(best) ? one : best),
    null,
  );
}

const escaped = (name: string): string => name.replaceAll('~', '~0').replaceAll('/', '~1');
