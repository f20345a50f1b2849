import { inSeconds } from '../base/instant.ts';
import type { PointRecord } from './point-record.ts';
import type { Check, Fault } from './session.ts';
import type { Shown, Words } from './judge-contact.ts';

/** Does a point report as it is recorded: each so many seconds, or at its changes (handbook 3). */
const LEAST = 6;
/** how much of the recorded period gaps may be off and still be that period */
const [SHORT, LONG] = [0.5, 1.6];

export function reportingOf(record: PointRecord, words: Words): Shown {
  const { point, key } = record;
  const gaps = gapsOf(record);
  const name = words.point(key);
  if (gaps.length < LEAST) {
    const isPolled = point.reporting.mode === 'polled';
    const says = isPolled
      ? 'Too few samples yet to tell how often it reports.'
      : 'Reports at its changes, as recorded.';
    return { checks: [check(isPolled ? 'not-seen' : 'right', says)], faults: [] };
  }
  const period = gaps[gaps.length >> 1]!;
  if (point.reporting.mode === 'polled') return polled(record, period, name);
  const isEven = gaps.filter((gap) => Math.abs(gap - period) <= 0.2 * period).length >= 0.8 * gaps.length;
  return isEven && isRepeating(record)
    ? wrong(
        record,
        name,
        period,
        `it is recorded as reporting at its changes, and comes each ${figure(period)} s whether or not it has changed`,
      )
    : { checks: [check('right', 'Reports at its changes, as recorded.')], faults: [] };
}

function polled(record: PointRecord, period: number, name: string): Shown {
  const { reporting } = record.point;
  const recorded = reporting.mode === 'polled' ? reporting.seconds : 0;
  if (period >= SHORT * recorded && period <= LONG * recorded)
    return {
      checks: [check('right', `Comes each ${figure(period)} s, recorded as ${figure(recorded)} s.`)],
      faults: [],
    };
  return wrong(
    record,
    name,
    period,
    `it comes each ${figure(period)} s and is recorded as polled each ${figure(recorded)} s`,
  );
}

function wrong({ key }: PointRecord, name: string, period: number, because: string): Shown {
  const seconds = Math.max(0.1, Math.round(period * 10) / 10);
  const fault: Fault = {
    key: `reporting:${key}`,
    kind: 'reporting',
    on: [key],
    says: `Reporting isn’t as recorded: ${name}, ${because}.`,
    because: [`Half of the time between two samples is ${figure(period)} s or less, half is more.`],
    correction: { kind: 'reporting', point: key, seconds },
  };
  return { checks: [check('wrong', `Comes each ${figure(period)} s.`)], faults: [fault] };
}

const check = (state: Check['state'], says: string): Check => ({ kind: 'reporting', state, says, at: null });

/** Seconds between samples, in order of length. */
const gapsOf = ({ values }: PointRecord): number[] =>
  values
    .slice(1)
    .map(({ t }, i) => inSeconds(t - values[i]!.t))
    .filter((gap) => gap > 0)
    .sort((a, b) => a - b);

/** Nearly every sample says what the one before it said. */
const isRepeating = ({ values }: PointRecord): boolean =>
  values.slice(1).filter(({ value }, i) => value === values[i]!.value).length >= 0.8 * (values.length - 1);

const figure = (value: number): string =>
  String(value < 10 ? Math.round(value * 10) / 10 : Math.round(value));
