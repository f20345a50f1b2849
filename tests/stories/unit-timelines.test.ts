import { describe, expect, it } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import type { ControlSettings } from '../../shared/control/settings.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import { during, together, type Script } from '../fixtures/control-run.ts';
import { foldOnce } from '../fixtures/fold-run.ts';
import * as wired from '../fixtures/unit-record.ts';

/**
 * What the fold says of the timelines of handbook 2.3, seen through a fully wired unit that reports on change. Every
 * line is what a technician would read back from the record: what happened, when (seconds), how sure it is and, after
 * the stroke, how sure the cause.
 */
interface Story {
  readonly name: string;
  readonly script: Script;
  readonly settings?: Partial<ControlSettings>;
  readonly points?: readonly object[];
  readonly protection?: object;
  /** the panel's nominal voltage */
  readonly nominal?: number;
  readonly events: readonly string[];
}

const call = (from: number, to: number | null = null): Script =>
  during(from, to, { call: true }, { call: false });
const high = (from: number, to: number | null = null): Script =>
  during(from, to, { highPressureOpen: true }, { highPressureOpen: false });
const low = (from: number, to: number | null = null): Script =>
  during(from, to, { lowPressureOpen: true }, { lowPressureOpen: false });
const volts = (value: number, from: number, to: number): Script =>
  during(from, to, { controlVoltage: value }, { controlVoltage: 26 });
const away = (from: number, to: number): Script =>
  during(from, to, { controlVoltage: 0, call: false }, { controlVoltage: 26, call: true });

const STORIES: Story[] = [
  {
    name: 'a call that comes and goes',
    script: call(100, 900),
    events: ['compressor-run call-ended 100–900 certain/certain'],
  },
  {
    name: 'one high-pressure trip: a soft lockout that ends with its retry',
    script: together(call(100), high(500, 520)),
    events: [
      'compressor-run high-pressure 100–500 certain/certain',
      'soft-lockout high-pressure 500–710 certain/certain',
      'compressor-run 710–… certain',
    ],
  },
  {
    name: 'two high-pressure trips in one call latch, and the end of the call resets',
    script: together(call(100, 5000), high(500, 520), high(800, 900)),
    events: [
      'compressor-run high-pressure 100–500 certain/certain',
      'soft-lockout high-pressure 500–710 certain/certain',
      'compressor-run high-pressure 710–800 certain/certain',
      'hard-lockout high-pressure 800–5000 certain/certain',
      'lockout-reset call-broken 5000 certain/certain',
    ],
  },
  {
    name: 'a high-pressure switch that stays open: the refused retry latches',
    script: together(call(100, 1000), high(500, 900), call(1010)),
    events: [
      'compressor-run high-pressure 100–500 certain/certain',
      'soft-lockout high-pressure 500–710 certain/certain',
      'hard-lockout high-pressure 710–1000 certain/certain',
      'lockout-reset call-broken 1000 certain/certain',
      'compressor-run 1220–… certain',
    ],
  },
  {
    name: 'a low-pressure switch open for 90 s is no event',
    script: together(call(100), low(500, 590)),
    events: ['compressor-run 100–… certain'],
  },
  {
    name: 'a low-pressure switch open for 121 s',
    script: together(call(100), low(500, 621)),
    events: [
      'compressor-run low-pressure 100–620 certain/certain',
      'soft-lockout low-pressure 620–830 certain/certain',
      'compressor-run 830–… certain',
    ],
  },
  {
    name: 'a low-pressure switch that stays open, tolerated again at the retry',
    script: together(call(100), low(500)),
    settings: { lowPressureRetry: 'bypass-again' },
    events: [
      'compressor-run low-pressure 100–620 certain/certain',
      'soft-lockout low-pressure 620–830 certain/certain',
      'compressor-run low-pressure 830–950 certain/certain',
      'hard-lockout low-pressure 950–… certain/certain',
    ],
  },
  {
    name: 'a low-pressure switch that stays open, needed closed at the retry',
    script: together(call(100), low(500)),
    settings: { lowPressureRetry: 'closed-needed' },
    events: [
      'compressor-run low-pressure 100–620 certain/certain',
      'soft-lockout low-pressure 620–830 certain/certain',
      'hard-lockout low-pressure 830–… certain/certain',
    ],
  },
  {
    name: 'undervoltage: 17 V for 5 s holds the compressor off and counts toward no lockout',
    script: together(call(100), volts(17, 500, 505)),
    events: [
      'compressor-run undervoltage 100–500 certain/certain',
      'undervoltage-hold 500–710 certain',
      'compressor-run 710–… certain',
    ],
  },
  {
    name: 'an outage of 40 s with an off-cycle delay of 240 s',
    script: together(call(-100), away(500, 540)),
    settings: { offDelay: 240 },
    protection: { offDelay: 240 },
    events: ['compressor-run power-lost -100–500 certain/certain', 'compressor-run 684–… certain'],
  },
  {
    name: 'three short outages while the utility recloses',
    script: together(call(-100), away(0, 0.33), away(15, 15.5), away(45, 46)),
    events: ['compressor-run power-lost -100–0 certain/certain', 'compressor-run 187–… certain'],
  },
  {
    name: 'no pressure contacts, control voltage polled: time tells high pressure within the bypass, else either',
    script: together(call(100, 5000), high(500, 520), high(750, 760)),
    points: [wired.CALL, wired.OUTPUT, wired.ALARM, wired.VOLTAGE_POLLED],
    events: [
      'compressor-run pressure 100–500 certain/possible',
      'soft-lockout pressure 500–710 probable/possible',
      'compressor-run high-pressure 710–750 certain/probable',
      'hard-lockout high-pressure 750–5000 certain/probable',
      'lockout-reset call-broken 5000 certain/probable',
    ],
  },
  {
    name: 'no pressure contacts: a stop just when the bypass runs out after the retry points to low pressure',
    script: together(call(100), low(500)),
    settings: { lowPressureRetry: 'bypass-again' },
    points: [wired.CALL, wired.OUTPUT, wired.ALARM, wired.VOLTAGE],
    events: [
      'compressor-run pressure 100–620 certain/possible',
      'soft-lockout pressure 620–830 certain/possible',
      'compressor-run low-pressure 830–950 certain/probable',
      'hard-lockout low-pressure 950–… certain/probable',
    ],
  },
  {
    name: 'an alarm contact alone: a hard lockout, probably, and when it ended',
    script: together(call(100, 5000), high(500, 520), high(800, 900)),
    points: [wired.ALARM],
    events: [
      'hard-lockout unknown 800–5000 probable/possible',
      'lockout-reset call-broken 5000 probable/possible',
    ],
  },
  {
    name: 'an alarm contact that never moves is told once the retry is overdue',
    script: together(call(100, 5000), high(500, 520), high(800, 900)),
    points: [
      wired.CALL,
      wired.OUTPUT,
      wired.HIGH,
      wired.LOW,
      wired.VOLTAGE,
      { ...wired.ALARM, gateway: 'dead' },
    ],
    events: [
      'compressor-run high-pressure 100–500 certain/certain',
      'soft-lockout high-pressure 500–710 certain/certain',
      'compressor-run high-pressure 710–800 certain/certain',
      'hard-lockout high-pressure 800–5000 probable/certain',
      'lockout-reset call-broken 5000 probable/certain',
      'alarm-circuit-fault silent 800–… probable/probable',
    ],
  },
  {
    name: 'a dial at 150 s on a control recorded at 210 s, shown by a retry: the setting does not match',
    script: together(call(100, 2000), high(500, 520)),
    settings: { offDelay: 150 },
    events: [
      'compressor-run high-pressure 100–500 certain/certain',
      'short-cycle delay-not-kept 650 certain/certain',
      'soft-lockout high-pressure 500–650 certain/certain',
      'compressor-run call-ended 650–2000 certain/certain',
      'setting-mismatch 650–… certain',
    ],
  },
  {
    name: 'control voltage at 21 V through a run on a 208 V panel: the tap, probably',
    script: together(call(100, 1500), volts(21, 100, 1500)),
    nominal: 208,
    events: [
      'control-voltage-out-of-range wrong-tap 100–1500 certain/probable',
      'compressor-run call-ended 100–1500 certain/certain',
    ],
  },
  {
    name: 'a call that comes long after the stop proves nothing of the delay',
    script: together(call(100, 500), call(1500, 1900)),
    settings: { offDelay: 150 },
    events: [
      'compressor-run call-ended 100–500 certain/certain',
      'compressor-run call-ended 1500–1900 certain/certain',
    ],
  },
  {
    name: 'a trip within a tenth of a second of the end of the call: which came first can’t be told',
    script: together(call(100, 500.1), high(500, 520)),
    events: ['compressor-run call-ended 100–500 certain/probable'],
  },
  {
    name: 'a dip 0.1 s after the start, while the call has only just come',
    script: together(call(100), volts(14, 100.1, 101)),
    events: [
      'compressor-run undervoltage 100–100.1 certain/certain',
      'undervoltage-hold 100.1–310.1 certain',
      'compressor-run 310.1–… certain',
    ],
  },
  {
    name: 'a start refused by an open high-pressure switch counts: the first stop that is seen latches',
    script: together(call(100, 5000), high(90, 150), high(600, 620)),
    events: [
      'compressor-run high-pressure 310–600 certain/certain',
      'hard-lockout high-pressure 600–5000 certain/certain',
      'lockout-reset call-broken 5000 certain/certain',
    ],
  },
  {
    name: 'a high-pressure switch open from before the call: no start at all, and the refused retry latches',
    script: together(call(100, 5000), high(90)),
    events: [
      'hard-lockout high-pressure 310–5000 certain/probable',
      'lockout-reset call-broken 5000 certain/certain',
    ],
  },
  {
    name: 'a delay recorded too short: the alarm tells when the retry was refused, and its circuit is well',
    script: together(call(100, 1000), high(500, 900)),
    protection: { offDelay: 168 },
    events: [
      'compressor-run high-pressure 100–500 certain/certain',
      'soft-lockout high-pressure 500–710 certain/certain',
      'hard-lockout high-pressure 710–1000 certain/certain',
      'lockout-reset call-broken 1000 certain/certain',
    ],
  },
  {
    name: 'a delay recorded too short: a retry that was thought overdue comes after all',
    script: together(call(100, 1000), high(500, 520)),
    protection: { offDelay: 168 },
    events: [
      'compressor-run high-pressure 100–500 certain/certain',
      'soft-lockout high-pressure 500–710 certain/certain',
      'compressor-run call-ended 710–1000 certain/certain',
      'setting-mismatch 710–… certain',
    ],
  },
  {
    name: 'a call broken in a wait and back late sets the delay going once more, and says nothing against the record',
    script: together(call(100, 580), high(500, 520), call(670, 1500)),
    protection: { offDelayFrom: 'call' },
    events: [
      'compressor-run high-pressure 100–500 certain/certain',
      'soft-lockout high-pressure 500–580 certain/certain',
      'compressor-run call-ended 880–1500 certain/certain',
    ],
  },
  {
    name: 'a start refused by an open switch, then a stop with no alarm contact: a lockout, probably a soft one',
    script: together(call(100, 800), high(90, 150), high(600, 620)),
    points: [wired.CALL, wired.OUTPUT, wired.HIGH, wired.LOW, wired.VOLTAGE],
    events: [
      'compressor-run high-pressure 310–600 certain/certain',
      'soft-lockout high-pressure 600–794.8 probable/certain',
    ],
  },
  {
    name: 'a delay of 90 s on a control recorded at 210 s is a short cycle',
    script: together(call(100, 500), call(590, 1500)),
    settings: { offDelay: 90 },
    events: [
      'compressor-run call-ended 100–500 certain/certain',
      'short-cycle delay-not-kept 590 certain/certain',
      'compressor-run call-ended 590–1500 certain/certain',
    ],
  },
];

describe('what the fold says of a unit', () => {
  it.each(STORIES)('$name', ({ script, settings, points, protection, nominal, events }) => {
    const silentAlarm = points?.some((point) => 'gateway' in point) ?? false;
    const fixed = points?.map((point) => ({
      ...point,
      ...('gateway' in point ? { gateway: 'gateway' } : {}),
    }));
    const site = wired.oneUnit(fixed ?? wired.FULL, protection, {}, undefined, nominal);
    const rows = wired
      .recordOf(script, settings)
      .map((row) => (silentAlarm && row.key.endsWith('lockout-alarm') ? { ...row, value: 0 } : row));
    const folded = foldOnce({
      fold: unitFold,
      history: [{ from: -Infinity, site }],
      subject: { kind: 'unit', site: site.id, device: 'unit-1' },
      rows,
      now: Math.max(...rows.map(({ t }) => t), seconds(1)),
    });
    expect(folded.events.map(wired.told)).toEqual(events);
  });
});
