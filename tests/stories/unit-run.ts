import { expect, it } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import { foldOnce, type Row } from '../fixtures/fold-run.ts';
import * as wired from '../fixtures/unit-record.ts';

/**
 * A story of one unit: what its gateway sent, line by line, and the facts that must come of it. A line is
 * `when: signal value …`, seconds and raw values as the gateway has them (1 closed; a pressure contact that opens has
 * tripped): `500: high-pressure 0, compressor-output 0`. Before the first line everything has been quiet for an hour:
 * no call, output off, switches closed, 26 V. Voltage is sent each 5 s where it is polled.
 */
export interface UnitStory {
  readonly name: string;
  /** default: everything, on change */
  readonly points?: readonly object[];
  readonly protection?: object;
  readonly unit?: object;
  /** the panel's nominal voltage */
  readonly nominal?: number;
  readonly sent: readonly string[];
  /** kinds whose facts the story is about */
  readonly about: readonly string[];
  /** each as `kind cause start–end certainty/cause certainty` */
  readonly facts: readonly string[];
}

const QUIET_SINCE = -3_600;
/** the gateway goes on for so long after the last line, s */
const AFTER = 1_000;
const QUIET: Readonly<Record<string, number>> = {
  'cooling-call': 0,
  'compressor-output': 0,
  'lockout-alarm': 0,
  'high-pressure': 1,
  'low-pressure': 1,
  'control-voltage': 26,
  'compressor-current': 0,
};

export function tellUnitStory(story: UnitStory): void {
  it(story.name, () => {
    const site = wired.oneUnit(
      story.points ?? wired.FULL,
      story.protection ?? {},
      story.unit ?? {},
      [{ id: 'gateway', heartbeatSeconds: 30 }],
      story.nominal,
    );
    const rows = rowsOf(story);
    const { events } = foldOnce({
      fold: unitFold,
      history: [{ from: -Infinity, site }],
      subject: { kind: 'unit', site: site.id, device: 'unit-1' },
      rows,
      watch: { spans: [{ from: seconds(QUIET_SINCE), to: Math.max(...rows.map(({ t }) => t)) }] },
    });
    const facts = events.filter(({ kind }) => story.about.includes(kind)).map(wired.told);
    expect(facts).toEqual(story.facts);
  });
}

function rowsOf({ sent, points }: UnitStory): Row[] {
  const quiet = Object.entries(QUIET).map(([signal, value]) => row(QUIET_SINCE, signal, value));
  const lines = sent.flatMap(readLine);
  const last = Math.max(...lines.map(({ t }) => t)) + seconds(AFTER);
  const polled = points?.includes(wired.VOLTAGE_POLLED) ? polls(lines, last) : [];
  const rows = polled.length > 0 ? lines.filter(({ key }) => !key.endsWith('control-voltage')) : lines;
  const lives: Row[] = [];
  for (let t = seconds(QUIET_SINCE); t <= last; t += seconds(10))
    lives.push({ key: 'gateway/life', t, value: 1 });
  return [...quiet, ...rows, ...polled, ...lives];
}

/** What a poll each 5 s makes of the voltage's lines. */
function polls(lines: readonly Row[], last: number): Row[] {
  const steps = lines.filter(({ key }) => key.endsWith('control-voltage'));
  const rows: Row[] = [];
  for (let t = seconds(QUIET_SINCE) + seconds(5); t <= last; t += seconds(5)) {
    const step = steps.filter((one) => one.t <= t).at(-1);
    rows.push({ key: 'unit-1/control-voltage', t, value: step?.value ?? QUIET['control-voltage']! });
  }
  return rows;
}

function readLine(line: string): Row[] {
  const [, when, what] = /^(-?[\d.]+): (.+)$/.exec(line) ?? [];
  if (!what) throw new Error(`no line of a story: ${line}`);
  return what.split(', ').map((one) => {
    const [signal, value] = one.split(' ');
    if (!(signal! in QUIET)) throw new Error(`no such signal: ${line}`);
    return row(Number(when), signal!, Number(value));
  });
}

const row = (second: number, signal: string, value: number): Row => ({
  key: `unit-1/${signal}`,
  t: seconds(second),
  value,
});
