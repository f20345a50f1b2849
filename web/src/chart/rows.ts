import type { SignalName } from '../../../shared/telemetry/signals.ts';
import { SIGNALS } from '../../../shared/telemetry/signals.ts';
import type { AnalogLane, SeriesLane } from '../view/series-view.ts';

/** The rows of a timing chart, top to bottom: contacts as lanes, then what is measured as lines. */
export interface ChartRow {
  /** `<device>/<signal>` */
  readonly key: string;
  readonly device: string;
  readonly signal: SignalName;
  readonly kind: 'lane' | 'plot';
  readonly name: string;
  readonly measure: string;
  readonly thresholds: readonly ThresholdLine[];
  /** reports on change: a value holds until the next one */
  readonly held: boolean;
}
export interface ThresholdLine {
  readonly value: number;
  readonly says: string;
}

/** From the call to its consequences, then the supply, then the air. */
const ORDER: readonly SignalName[] = [
  'cooling-call',
  'compressor-output',
  'high-pressure',
  'low-pressure',
  'lockout-alarm',
  'reversing-valve',
  'fan-call',
  'utility-failed',
  'generator-running',
  'control-voltage',
  'contactor-voltage',
  'compressor-current',
  'line-voltage',
];

export function chartRow(
  point: {
    readonly device: string;
    readonly signal: SignalName;
    readonly reporting: { readonly mode: 'on-change' | 'polled' };
  },
  name: string,
  thresholds: readonly (ThresholdLine & { readonly signal: SignalName })[],
): ChartRow {
  const { device, signal } = point;
  const row = SIGNALS[signal];
  return {
    key: `${device}/${signal}`,
    device,
    signal,
    kind: row.kind === 'contact' ? 'lane' : 'plot',
    name,
    measure: row.measure,
    thresholds: thresholds.filter((threshold) => threshold.signal === signal),
    held: point.reporting.mode === 'on-change',
  };
}

export function inChartOrder(rows: readonly ChartRow[]): readonly ChartRow[] {
  const rank = ({ signal }: ChartRow) => (ORDER.includes(signal) ? ORDER.indexOf(signal) : ORDER.length);
  return rows.toSorted((a, b) => rank(a) - rank(b));
}

/** Rows that every chart of a unit shows; the others on being asked. */
const PLAIN: ReadonlySet<SignalName> = new Set([
  ...ORDER.filter(
    (signal) => !['reversing-valve', 'fan-call', 'utility-failed', 'generator-running'].includes(signal),
  ),
  'space-temperature',
]);
export const isPlain = (row: ChartRow): boolean => PLAIN.has(row.signal);

/** What the two states of a contact are called; the signal's own trade words. */
const CONTACT_WORDS: Readonly<Partial<Record<SignalName, readonly [off: string, on: string]>>> = {
  'cooling-call': ['no call', 'call'],
  'compressor-output': ['off', 'on'],
  'high-pressure': ['not tripped', 'tripped'],
  'low-pressure': ['not tripped', 'tripped'],
  'lockout-alarm': ['no alarm', 'alarm'],
  'utility-failed': ['utility there', 'utility failed'],
  'generator-running': ['not running', 'running'],
};

export function valueText(signal: SignalName, value: number | null): string {
  if (value === null) return 'not known';
  const row = SIGNALS[signal];
  if (row.kind === 'contact') return (CONTACT_WORDS[signal] ?? ['off', 'on'])[value === 1 ? 1 : 0];
  return `${value.toFixed(row.measure === 'A' || Math.abs(value) < 100 ? 1 : 0)} ${row.measure}`;
}

/**
 * The least and most of a plot's scale: what is drawn, and the nearest value that decides; a value beyond that one only
 * where the line gets past it. A little air around.
 */
export function scaleOf(
  lane: AnalogLane | undefined,
  thresholds: readonly ThresholdLine[],
): readonly [number, number] {
  let [low, high] = [Infinity, -Infinity];
  for (const value of lane?.min ?? []) if (value < low) low = value;
  for (const value of lane?.max ?? []) if (value > high) high = value;
  const values = thresholds.map(({ value }) => value);
  if (low > high) [low, high] = values.length > 0 ? [Math.min(...values), Math.max(...values)] : [0, 1];
  const beyond = (value: number) => Math.max(low - value, value - high);
  const nearest = values.toSorted((a, b) => beyond(a) - beyond(b))[0];
  if (nearest !== undefined) [low, high] = [Math.min(low, nearest), Math.max(high, nearest)];
  const air = Math.max((high - low) * 0.12, 0.5);
  return [low - air, high + air];
}

/** Round values to write beside a scale, at most about three. */
export function scaleMarks([low, high]: readonly [number, number]): number[] {
  const rough = (high - low) / 2.5;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((factor) => factor * power).find((candidate) => candidate >= rough)!;
  const marks: number[] = [];
  for (let mark = Math.ceil(low / step) * step; mark <= high; mark += step)
    marks.push(Number(mark.toFixed(6)));
  return marks;
}

export const laneOf = (lanes: ReadonlyMap<string, SeriesLane>, row: ChartRow): SeriesLane | undefined =>
  lanes.get(row.key);
