import { inSeconds, seconds, type Instant } from '../base/instant.ts';
import type { Panel } from '../telemetry/site.ts';
import type { Shown, Words } from './judge-contact.ts';
import { runsOf } from './judge-contact.ts';
import { levelAt, type PointRecord } from './point-record.ts';
import type { Responses } from './responses.ts';
import type { Check, Fault } from './session.ts';

/** Voltages, currents and temperatures: are they what they are called. */
interface Plausible {
  readonly low: number;
  readonly high: number;
  readonly measure: string;
  /** values below this are “away”, not implausible */
  readonly awayBelow: number;
}

/** 24 V AC nominal with the taps of handbook 4.10 and light load; C84.1’s range B with room for a long line; rooms and weather. */
function plausibleFor(signal: string, panel: Panel | null): Plausible | null {
  if (signal === 'control-voltage' || signal === 'contactor-voltage')
    return { low: 18, high: 33, measure: 'V', awayBelow: 5 };
  if (signal.startsWith('line-voltage') && panel)
    return {
      low: panel.nominalVoltage * 0.85,
      high: panel.nominalVoltage * 1.12,
      measure: 'V',
      awayBelow: 0.1 * panel.nominalVoltage,
    };
  if (signal === 'space-temperature') return { low: -10, high: 60, measure: '°C', awayBelow: -Infinity };
  if (signal.endsWith('temperature')) return { low: -45, high: 65, measure: '°C', awayBelow: -Infinity };
  return null;
}

export function valuesOf(record: PointRecord, panel: Panel | null, words: Words): Shown {
  const { values, key, point } = record;
  if (values.length === 0) return { checks: [heard(null)], faults: [] };
  const bounds = plausibleFor(point.signal, panel);
  const told = bounds ? values.filter(({ value }) => value >= bounds.awayBelow) : values;
  // it is proven by the first that was told; what came later only says it again
  const first = values[0]!.t;
  if (!bounds || told.length === 0) return { checks: [heard(first)], faults: [] };
  const off = told.filter(({ value }) => value < bounds.low || value > bounds.high);
  const middle = told.map(({ value }) => value).sort((a, b) => a - b)[told.length >> 1]!;
  const shown = `${figure(middle)} ${bounds.measure}`;
  if (off.length * 2 <= told.length)
    return {
      checks: [
        heard(first),
        { kind: 'plausible', state: 'right', says: `Reads ${shown}, which can be.`, at: told[0]!.t },
      ],
      faults: [],
    };
  const fault: Fault = {
    key: `value:${key}`,
    kind: 'value',
    on: [key],
    says: `Not plausible: ${words.point(key)} reads ${shown}, and should read ${figure(bounds.low)}–${figure(bounds.high)} ${bounds.measure}.`,
    because: [
      'Its scale, its range or its terminals aren’t as recorded: measure it at the terminals and compare.',
    ],
    correction: null,
  };
  return {
    checks: [heard(first), { kind: 'plausible', state: 'wrong', says: `Reads ${shown}.`, at: told[0]!.t }],
    faults: [fault],
  };
}

const heard = (at: Instant | null): Check =>
  at === null
    ? { kind: 'heard', state: 'not-seen', says: 'Not heard yet.', at: null }
    : { kind: 'heard', state: 'right', says: 'Heard.', at };

const figure = (value: number): string => String(Math.round(value * 10) / 10);

/** Control voltage goes and comes with the disconnect: it follows the line. */
export function followsLine(record: PointRecord, unit: string, responses: Responses, words: Words): Check {
  const away = responses
    .marksFor(record, unit, ['power-off'])
    .flatMap((mark) => responses.answer(mark, record) ?? [])
    .find(({ to }) => to === 0);
  const back = away && record.moves.find(({ latest, to }) => to === 1 && latest > away.latest);
  if (!back)
    return { kind: 'follows', state: 'not-seen', says: 'Not yet seen to follow the line.', at: null };
  const says = `Follows the line: away ${words.clock(away.latest)}, back ${words.clock(back.latest)}.`;
  return { kind: 'follows', state: 'right', says, at: back.latest };
}

/** The coil’s voltage and the compressor’s current come and go with the output of their own unit. */
export function followsOutput(record: PointRecord, output: PointRecord | null, words: Words): Shown {
  if (!output) return { checks: [], faults: [] };
  const runs = runsOf(output).filter(({ from, to }) => to - from >= seconds(15));
  const seen = runs.flatMap(({ from, to }): { at: Instant; is: 0 | 1 }[] => {
    const is = record.values.some(({ t }) => t > from && t <= to)
      ? levelAt(record, Math.min(to, from + seconds(12)))
      : null;
    return is === null ? [] : [{ at: from, is }];
  });
  const without = seen.find(({ is }) => is === 0);
  const name = words.point(record.key);
  if (without) {
    const says = `The output was on from ${words.clock(without.at)} and ${name} read nothing.`;
    return {
      checks: [{ kind: 'follows', state: 'wrong', says, at: without.at }],
      faults: [
        {
          key: `value:${record.key}`,
          kind: 'value',
          on: [record.key],
          says: `Doesn’t follow its output: ${name}.`,
          because: [says, `It was watched for ${Math.round(inSeconds(seconds(12)))} s after the start.`],
          correction: null,
        },
      ],
    };
  }
  const ended = seen.length > 0 && record.moves.some(({ to, latest }) => to === 0 && latest > seen[0]!.at);
  return {
    checks: [
      ended
        ? { kind: 'follows', state: 'right', says: 'Comes and goes with the output.', at: seen[0]!.at }
        : { kind: 'follows', state: 'not-seen', says: 'Not yet seen with a run and without.', at: null },
    ],
    faults: [],
  };
}
