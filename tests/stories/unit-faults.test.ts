import { describe, expect, it } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import { foldOnce, type Row } from '../fixtures/fold-run.ts';
import * as wired from '../fixtures/unit-record.ts';

/**
 * What the fold says where control, contactor or alarm circuit don't do what they should. The inputs are what the
 * gateway sent, in seconds: raw contacts (1 closed), volts, amperes.
 */
interface Story {
  readonly name: string;
  readonly points: readonly object[];
  readonly protection?: object;
  readonly unit?: object;
  readonly sent: readonly (readonly [second: number, signal: string, value: number])[];
  /** voltage sent every 5 s up to here */
  readonly until: number;
  /** the gateway is dead from one second to another, and tells everything as it comes back */
  readonly dead?: readonly [from: number, to: number];
  readonly events: readonly string[];
}

const CURRENT = { signal: 'compressor-current', reporting: { mode: 'on-change' }, deadband: 0.5 };
const AMPS = { nameplate: { ratedLoadAmps: 17.9 } };
const RELEASED = { ...wired.ALARM, contact: 'normally-closed', alarmOn: 'released' };
const OFF: Story['sent'] = [
  [0, 'cooling-call', 0],
  [0, 'compressor-output', 0],
];

const STORIES: Story[] = [
  {
    name: 'a welded contactor: current goes on with the output off',
    points: [wired.CALL, wired.OUTPUT, CURRENT, wired.VOLTAGE_POLLED],
    unit: AMPS,
    sent: [
      ...OFF,
      [0, 'compressor-current', 0],
      [100, 'cooling-call', 1],
      [100, 'compressor-output', 1],
      [100.3, 'compressor-current', 15],
      [500, 'cooling-call', 0],
      [500, 'compressor-output', 0],
      [650, 'compressor-current', 0],
    ],
    until: 900,
    events: ['compressor-run call-ended 100–500 certain/probable', 'stuck-contactor 500–650 certain'],
  },
  {
    name: 'current polled every 2 s that may have gone within the grace of 2 s is no welded contactor',
    points: [
      wired.CALL,
      wired.OUTPUT,
      { ...CURRENT, reporting: { mode: 'polled', seconds: 2 } },
      wired.VOLTAGE,
    ],
    unit: AMPS,
    sent: [
      ...OFF,
      [0, 'control-voltage', 26],
      [100, 'cooling-call', 1],
      [100, 'compressor-output', 1],
      [500, 'cooling-call', 0],
      [500, 'compressor-output', 0],
      ...Array.from({ length: 400 }, (_, i): Story['sent'][number] => [
        2 * i,
        'compressor-current',
        2 * i > 100 && 2 * i <= 502 ? 15 : 0,
      ]),
    ],
    until: 0,
    // no pressure contact: a trip in the very moment of the call's end can't be told from it
    events: ['compressor-run call-ended 100–500 certain/probable'],
  },
  {
    name: 'control voltage polled: a restart after 141 s fits an outage too short to be seen, and no setting is doubted',
    points: [wired.CALL, wired.OUTPUT, wired.VOLTAGE_POLLED],
    sent: [
      ...OFF,
      [100, 'cooling-call', 1],
      [100, 'compressor-output', 1],
      [502, 'cooling-call', 0],
      [502, 'compressor-output', 0],
      [503, 'cooling-call', 1],
      [644, 'compressor-output', 1],
    ],
    until: 700,
    events: [
      'compressor-run call-ended 100–502 certain/probable',
      'short-cycle delay-not-kept 644 possible/possible',
      'compressor-run 644–… certain',
    ],
  },
  {
    name: 'a gateway that was dead tells another value as it comes back: no start is seen there, nor how early it was',
    points: [wired.CALL, wired.OUTPUT, wired.VOLTAGE],
    sent: [
      ...OFF,
      [0, 'control-voltage', 26],
      [705.5, 'cooling-call', 1],
      [705.5, 'compressor-output', 1],
      [705.5, 'control-voltage', 26],
      [900, 'cooling-call', 0],
      [900, 'compressor-output', 0],
    ],
    until: 0,
    dead: [200, 710],
    events: [],
  },
  {
    name: 'a compressor that does not start with the output on, and one that stops drawing in its run',
    points: [wired.CALL, wired.OUTPUT, CURRENT, wired.VOLTAGE_POLLED],
    unit: AMPS,
    sent: [
      ...OFF,
      [0, 'compressor-current', 0],
      [100, 'cooling-call', 1],
      [100, 'compressor-output', 1],
      [160, 'compressor-current', 15],
      [400, 'compressor-current', 0],
      [500, 'cooling-call', 0],
      [500, 'compressor-output', 0],
    ],
    until: 600,
    events: [
      'failed-start at-start 100–160 certain/certain',
      'compressor-run call-ended 100–500 certain/probable',
      'failed-start in-run 400–500 certain/certain',
    ],
  },
  {
    name: 'an alarm contact that closes while the compressor runs is a fault of its circuit',
    points: [wired.CALL, wired.OUTPUT, wired.ALARM, wired.VOLTAGE_POLLED],
    sent: [
      ...OFF,
      [0, 'lockout-alarm', 0],
      [100, 'cooling-call', 1],
      [100, 'compressor-output', 1],
      [300, 'lockout-alarm', 1],
      [360, 'lockout-alarm', 0],
    ],
    until: 600,
    events: ['alarm-circuit-fault unexplained 300–360 certain/certain', 'compressor-run 100–… certain'],
  },
  {
    name: 'an alarm relay that is released on alarm, during a power loss, is the power loss',
    points: [wired.CALL, wired.OUTPUT, RELEASED, wired.VOLTAGE],
    sent: [
      ...OFF,
      [0, 'lockout-alarm', 1],
      [0, 'control-voltage', 26],
      [100, 'cooling-call', 1],
      [100, 'compressor-output', 1],
      [300, 'control-voltage', 0],
      [300, 'cooling-call', 0],
      [300, 'compressor-output', 0],
      [300.05, 'lockout-alarm', 0],
      [340, 'control-voltage', 26],
      [340, 'cooling-call', 1],
      [340, 'lockout-alarm', 1],
      [481, 'compressor-output', 1],
    ],
    until: 0,
    events: ['compressor-run power-lost 100–300 certain/certain', 'compressor-run 481–… certain'],
  },
  {
    name: 'an alarm contact that closes with no protective stop in its call is unexplained',
    points: [wired.CALL, wired.OUTPUT, wired.ALARM, wired.VOLTAGE_POLLED],
    sent: [
      ...OFF,
      [0, 'lockout-alarm', 0],
      [100, 'cooling-call', 1],
      [100, 'compressor-output', 1],
      [300, 'cooling-call', 0],
      [300, 'compressor-output', 0],
      [320, 'cooling-call', 1],
      [330, 'lockout-alarm', 1],
      [360, 'lockout-alarm', 0],
      [515, 'compressor-output', 1],
    ],
    until: 600,
    events: [
      'compressor-run call-ended 100–300 certain/probable',
      'alarm-circuit-fault unexplained 330–360 probable/probable',
      'compressor-run 515–… certain',
    ],
  },
  {
    name: 'an alarm contact wired the wrong way round is asserted while all is well, and again as a lockout ends',
    points: [wired.CALL, wired.OUTPUT, wired.ALARM, wired.HIGH, wired.LOW, wired.VOLTAGE],
    sent: [
      ...OFF,
      [0, 'lockout-alarm', 1],
      [0, 'high-pressure', 1],
      [0, 'low-pressure', 1],
      [0, 'control-voltage', 26],
      [100, 'cooling-call', 1],
      [100, 'compressor-output', 1],
      [200, 'high-pressure', 0],
      [200, 'compressor-output', 0],
      [410, 'lockout-alarm', 0],
      [900, 'cooling-call', 0],
      [900, 'lockout-alarm', 1],
    ],
    until: 0,
    events: [
      'compressor-run high-pressure 100–200 certain/certain',
      'alarm-circuit-fault unexplained 0–410 probable/probable',
      // somewhere between the stop and the end of the call: nothing showed when its retry was refused
      'soft-lockout high-pressure 200–550.1 certain/certain',
      'hard-lockout high-pressure 310.4–900 probable/certain',
      'lockout-reset call-broken 900 probable/certain',
      'alarm-circuit-fault silent 310.4–900 probable/probable',
      'alarm-circuit-fault unexplained 900–… probable/probable',
    ],
  },
  {
    name: 'low pressure with a bypass shorter than written: nothing else is left, so probably its doing',
    points: [wired.CALL, wired.OUTPUT, wired.ALARM, wired.HIGH, wired.LOW, wired.VOLTAGE],
    protection: { lowPressureBypass: 120 },
    sent: [
      ...OFF,
      [0, 'high-pressure', 1],
      [0, 'low-pressure', 1],
      [0, 'control-voltage', 26],
      [100, 'cooling-call', 1],
      [100, 'compressor-output', 1],
      [300, 'low-pressure', 0],
      [400, 'compressor-output', 0],
      [420, 'low-pressure', 1],
      [610, 'compressor-output', 1],
    ],
    until: 0,
    events: [
      'compressor-run low-pressure 100–400 certain/probable',
      'soft-lockout low-pressure 400–610 certain/probable',
      'compressor-run 610–… certain',
    ],
  },
  {
    name: 'the same lockout reset again within the hour',
    points: [wired.CALL, wired.OUTPUT, wired.ALARM, wired.HIGH, wired.LOW, wired.VOLTAGE],
    sent: [
      ...OFF,
      [0, 'lockout-alarm', 0],
      [0, 'high-pressure', 1],
      [0, 'low-pressure', 1],
      [0, 'control-voltage', 26],
      ...lockout(100),
      ...lockout(1500),
    ],
    until: 0,
    events: [
      'compressor-run high-pressure 100–200 certain/certain',
      'soft-lockout high-pressure 200–410 certain/certain',
      'hard-lockout high-pressure 410–900 certain/certain',
      'lockout-reset call-broken 900 certain/certain',
      'compressor-run high-pressure 1500–1600 certain/certain',
      'soft-lockout high-pressure 1600–1810 certain/certain',
      'hard-lockout high-pressure 1810–2300 certain/certain',
      'lockout-reset call-broken 2300 certain/certain',
      'repeated-reset 2300 certain',
    ],
  },
  {
    name: 'eleven starts within the hour are too many, told once',
    points: [wired.CALL, wired.OUTPUT, wired.VOLTAGE],
    protection: { offDelay: 30 },
    sent: [
      ...OFF,
      [0, 'control-voltage', 26],
      ...Array.from({ length: 12 }, (_, i): Story['sent'] => [
        [100 + i * 240, 'cooling-call', 1],
        [100 + i * 240, 'compressor-output', 1],
        [200 + i * 240, 'cooling-call', 0],
        [200 + i * 240, 'compressor-output', 0],
      ]).flat(),
    ],
    until: 0,
    events: [
      ...Array.from({ length: 10 }, (_, i) => runOf(i)),
      'short-cycle too-many-starts 2500 certain/certain',
      runOf(10),
      runOf(11),
    ],
  },
  {
    name: 'no call contact: a stop with both pressure switches closed is left open',
    points: [wired.OUTPUT, wired.HIGH, wired.LOW, wired.VOLTAGE_POLLED],
    sent: [
      [0, 'compressor-output', 0],
      [0, 'high-pressure', 1],
      [0, 'low-pressure', 1],
      [100, 'compressor-output', 1],
      [900, 'compressor-output', 0],
    ],
    until: 1200,
    events: ['compressor-run unknown 100–900 certain/possible'],
  },
  {
    name: 'no call contact: a stop with the high-pressure switch opening is possibly its doing',
    points: [wired.OUTPUT, wired.HIGH, wired.VOLTAGE_POLLED],
    sent: [
      [0, 'compressor-output', 0],
      [0, 'high-pressure', 1],
      [100, 'compressor-output', 1],
      [900, 'high-pressure', 0],
      [900, 'compressor-output', 0],
      [930, 'high-pressure', 1],
    ],
    until: 1000,
    events: [
      'compressor-run high-pressure 100–900 certain/possible',
      'soft-lockout high-pressure 900–… possible/possible',
    ],
  },
];

/** A high-pressure switch that stays open until the call is broken, from a start at `t` on. */
function lockout(t: number): Story['sent'] {
  return [
    [t, 'cooling-call', 1],
    [t, 'compressor-output', 1],
    [t + 100, 'high-pressure', 0],
    [t + 100, 'compressor-output', 0],
    [t + 310, 'lockout-alarm', 1],
    [t + 800, 'cooling-call', 0],
    [t + 800, 'lockout-alarm', 0],
    [t + 810, 'high-pressure', 1],
  ];
}

function runOf(i: number): string {
  return `compressor-run call-ended ${100 + i * 240}–${200 + i * 240} certain/probable`;
}

/** A gateway tells every 10 s that it lives; voltage every 5 s where it is polled. */
function rowsOf({ sent, until, dead }: Story): Row[] {
  const rows = sent.map(([t, signal, value]) => ({ key: `unit-1/${signal}`, t: seconds(t), value }));
  const last = Math.max(until, ...sent.map(([t]) => t)) + 60;
  const isDead = (t: number): boolean => !!dead && t >= dead[0] && t < dead[1];
  for (let t = 0; t <= last; t += 10)
    if (!isDead(t)) rows.push({ key: 'gateway/life', t: seconds(t), value: 1 });
  for (let t = 0; t <= until; t += 5) rows.push({ key: 'unit-1/control-voltage', t: seconds(t), value: 26 });
  return rows;
}

describe('what the fold says of faults', () => {
  it.each(STORIES)('$name', (story) => {
    const site = wired.oneUnit(story.points, story.protection ?? {}, story.unit ?? {});
    const folded = foldOnce({
      fold: unitFold,
      history: [{ from: -Infinity, site }],
      subject: { kind: 'unit', site: site.id, device: 'unit-1' },
      rows: rowsOf(story),
      watch: { spans: story.dead ? [{ from: 0, to: seconds(960) }] : [] },
    });
    expect(folded.events.map(wired.told)).toEqual(story.events);
  });
});

describe('what is told before everything is known', () => {
  const site = wired.oneUnit([
    wired.CALL,
    wired.OUTPUT,
    wired.ALARM,
    wired.HIGH,
    wired.LOW,
    wired.VOLTAGE_POLLED,
  ]);
  const story: Story = {
    ...STORIES[4]!,
    until: 0,
    sent: [...OFF, [0, 'lockout-alarm', 0], [0, 'high-pressure', 1]],
  };
  const after = (...sent: Story['sent']) =>
    foldOnce({
      fold: unitFold,
      history: [{ from: -Infinity, site }],
      subject: { kind: 'unit', site: site.id, device: 'unit-1' },
      rows: [...story.sent, ...sent]
        .map(([t, signal, value]): Row => ({ key: `unit-1/${signal}`, t: seconds(t), value }))
        .concat({ key: 'unit-1/control-voltage', t: seconds(795), value: 26 }),
    });
  const trips: Story['sent'] = [
    [100, 'cooling-call', 1],
    [100, 'compressor-output', 1],
    [500, 'high-pressure', 0],
    [500, 'compressor-output', 0],
    [520, 'high-pressure', 1],
    [710, 'compressor-output', 1],
  ];

  it('an output that goes off is stopped, for a reason not known yet', () => {
    const { standing } = after(...trips, [800, 'compressor-output', 0]);
    expect(standing?.unit).toMatchObject({ phase: 'stopped', pending: ['cause'] });
  });

  it('an alarm that closes is a hard lockout at once, probably, from the stop on', () => {
    const { standing, events } = after(...trips, [800, 'compressor-output', 0], [800.1, 'lockout-alarm', 1]);
    expect(standing?.unit).toMatchObject({ phase: 'hard-lockout', since: { latest: seconds(800.1) } });
    expect(events.map(wired.told)).toContain('hard-lockout unknown 800–… probable/possible');
  });

  it('an alarm that is heard before its output says so too', () => {
    const { standing } = after(...trips, [800.1, 'lockout-alarm', 1]);
    expect(standing?.unit).toMatchObject({ phase: 'hard-lockout' });
  });
});
