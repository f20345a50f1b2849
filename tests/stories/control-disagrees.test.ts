import { describe, expect, it } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import { foldOnce, type Row } from '../fixtures/fold-run.ts';
import * as wired from '../fixtures/unit-record.ts';

/**
 * Control disagrees: the output does what no protection control would do on the inputs that were seen, however it is set
 * (handbook 4 rule 11). What the gateway sent, in seconds: raw contacts (1 closed, pressure contacts 0 tripped), volts;
 * then every disagreement that is told. Other rules' events of the same stories are theirs to check.
 */
interface Story {
  readonly name: string;
  readonly points?: readonly object[];
  readonly protection?: object;
  readonly unit?: object;
  readonly sent: readonly (readonly [second: number, signal: string, value: number])[];
  /** the gateway lives up to here */
  readonly until: number;
  readonly told: readonly string[];
}

type Sent = Story['sent'];

const WELL: Sent = [
  [-5000, 'cooling-call', 0],
  [-5000, 'compressor-output', 0],
  [-5000, 'lockout-alarm', 0],
  [-5000, 'high-pressure', 1],
  [-5000, 'low-pressure', 1],
  [-5000, 'control-voltage', 26],
];
const call = (at: number, value = 1): Sent[number] => [at, 'cooling-call', value];
const output = (at: number, value: number): Sent[number] => [at, 'compressor-output', value];
const high = (at: number, value: number): Sent[number] => [at, 'high-pressure', value];
const low = (at: number, value: number): Sent[number] => [at, 'low-pressure', value];
const volts = (at: number, value: number): Sent[number] => [at, 'control-voltage', value];

const polled = (point: object, every: number) => ({
  ...point,
  reporting: { mode: 'polled', seconds: every },
});
/** A contact as a poll each `every` seconds sees it. */
const polls = (signal: string, every: number, to: number, value: (at: number) => number): Sent =>
  Array.from({ length: Math.ceil(to / every) }, (_, i): Sent[number] => [
    i * every,
    signal,
    value(i * every),
  ]);

/** Trips on high pressure each time, 100 s after each of these starts, and is closed again 10 s later. */
const trips = (starts: readonly number[]): Sent =>
  starts.flatMap((at): Sent => [output(at, 1), high(at + 100, 0), output(at + 100, 0), high(at + 110, 1)]);

const STORIES: Story[] = [
  {
    name: 'the call ends and the output stays on: told once it has lasted for more than 2 s',
    sent: [...WELL, call(100), output(100, 1), call(500, 0), output(900, 0)],
    until: 1500,
    told: ['on-without-call 500 certain'],
  },
  {
    name: 'an output that goes off 1 s after its call has only been slow',
    sent: [...WELL, call(100), output(100, 1), call(500, 0), output(501, 0)],
    until: 1500,
    told: [],
  },
  {
    name: 'the same polled each 5 s: a call that came back at each poll alone would be a coincidence',
    points: [polled(wired.CALL, 5), polled(wired.OUTPUT, 5), wired.VOLTAGE],
    sent: [
      volts(0, 26),
      ...polls('cooling-call', 5, 1500, (at) => +(at > 100 && at < 498)),
      ...polls('compressor-output', 5, 1500, (at) => +(at > 100 && at < 900)),
    ],
    until: 1500,
    told: ['on-without-call 495..500 probable'],
  },
  {
    name: 'an output on for one poll longer than its call fits both having gone in between',
    points: [polled(wired.CALL, 5), polled(wired.OUTPUT, 5), wired.VOLTAGE],
    sent: [
      volts(0, 26),
      ...polls('cooling-call', 5, 1500, (at) => +(at > 100 && at < 498)),
      ...polls('compressor-output', 5, 1500, (at) => +(at > 100 && at < 503)),
    ],
    until: 1500,
    told: [],
  },
  {
    name: 'a call sensed upstream says nothing of what the control was asked',
    points: [{ ...wired.CALL, sense: 'upstream' }, wired.OUTPUT, wired.HIGH, wired.VOLTAGE],
    sent: [...WELL, call(100), output(100, 1), call(500, 0), output(900, 0)],
    until: 1500,
    told: [],
  },
  {
    name: 'the high-pressure switch opens and the compressor runs on',
    sent: [...WELL, call(100), output(100, 1), high(500, 0), high(560, 1), call(900, 0), output(900, 0)],
    until: 1500,
    told: ['on-with-high-pressure 500 certain'],
  },
  {
    name: 'two gateways that each may be 1 s off: 3 s of running on may be their clocks',
    points: [{ ...wired.HIGH, gateway: 'other' }, wired.CALL, wired.OUTPUT, wired.VOLTAGE],
    sent: [...WELL, call(100), output(100, 1), high(500, 0), output(503, 0), high(520, 1), call(900, 0)],
    until: 1500,
    told: [],
  },
  {
    name: 'a low-pressure switch tolerated for far longer than its recorded bypass of 120 s',
    protection: { lowPressureBypass: 120 },
    sent: [...WELL, call(100), output(100, 1), low(500, 0), low(800, 1), call(900, 0), output(900, 0)],
    until: 1500,
    told: ['on-with-low-pressure 613.9..660.1 probable'],
  },
  {
    name: 'the same where the bypass is only assumed: it may be set to anything',
    sent: [...WELL, call(100), output(100, 1), low(500, 0), low(800, 1), call(900, 0), output(900, 0)],
    until: 1500,
    told: [],
  },
  {
    name: 'control voltage gone and the output on: one of the two is sensed wrongly',
    sent: [
      ...WELL,
      call(100),
      output(100, 1),
      volts(500, 0),
      call(500, 0),
      volts(520, 26),
      call(520),
      output(700, 0),
    ],
    until: 1500,
    told: ['on-without-power 500 certain'],
  },
  {
    name: 'a call that is never answered though all is well',
    sent: [...WELL, call(100), call(2000, 0)],
    until: 3000,
    told: ['off-with-call 101 certain'],
  },
  {
    name: 'a start held back by a delay that nobody knows of, longer than any that can be set',
    sent: [...WELL, call(100), output(900, 1), call(1500, 0), output(1500, 0)],
    until: 3000,
    told: ['off-with-call 101 certain'],
  },
  {
    name: 'an unanswered call with the high-pressure contact not wired: it may have been refused',
    points: [wired.CALL, wired.OUTPUT, wired.ALARM, wired.VOLTAGE],
    sent: [...WELL, call(100), call(2000, 0)],
    until: 3000,
    told: [],
  },
  {
    name: 'an unanswered call just after a run: counted from when the longest delay that can be set is over',
    sent: [...WELL, call(100), output(100, 1), call(500, 0), output(500, 0), call(520), call(2000, 0)],
    until: 3000,
    told: ['off-with-call 885.1 certain'],
  },
  {
    name: 'an unanswered call with the control voltage polled each 5 s: outages would have had to hide between the polls',
    points: [...wired.FULL.filter((point) => point !== wired.VOLTAGE), wired.VOLTAGE_POLLED],
    sent: [
      ...WELL.filter(([, signal]) => signal !== 'control-voltage'),
      ...polls('control-voltage', 5, 3000, () => 26),
      call(1000),
      call(2900, 0),
    ],
    until: 3000,
    told: ['off-with-call 999.9..1012.1 probable'],
  },
  {
    name: 'a unit that is not back after an outage is its panel’s to tell',
    sent: [
      ...WELL,
      call(100),
      output(100, 1),
      volts(500, 0),
      call(500, 0),
      output(500, 0),
      volts(520, 26),
      call(520),
    ],
    until: 3000,
    told: [],
  },
  {
    name: 'an unanswered call while the alarm stands is the alarm’s to tell',
    sent: [...WELL, [50, 'lockout-alarm', 1], call(100), call(2000, 0)],
    until: 3000,
    told: [],
  },
  {
    name: 'a control that starts again and again in one call, however often it trips: it never latches',
    sent: [...WELL, call(100), ...trips([100, 500, 900, 1300, 1700, 2100]), call(2500, 0)],
    until: 3000,
    told: ['never-latches 1700 probable'],
  },
  {
    name: 'a stop that nothing explains fits a break of call or power too short to be seen',
    sent: [...WELL, call(100), output(100, 1), output(500, 0), output(710, 1), call(900, 0), output(900, 0)],
    until: 1500,
    told: [],
  },
  {
    name: 'a disagreement that comes back with each call is one, told at its first moment',
    sent: [
      ...WELL,
      ...[0, 1000, 2000, 3000].flatMap((at): Sent => [
        call(at + 100),
        output(at + 100, 1),
        call(at + 500, 0),
        output(at + 600, 0),
      ]),
    ],
    until: 5000,
    told: ['on-without-call 500 certain'],
  },
];

describe('a control that does what no control would', () => {
  it.each(STORIES)('$name', (story) => {
    expect(disagreements(story).map(fact)).toEqual(story.told);
  });

  it('what each variant would have done is told with it', () => {
    const [event] = disagreements({
      ...STORIES.find(({ name }) => name.startsWith('an unanswered call just after a run'))!,
      protection: { offDelay: 210 },
    });
    expect(event!.evidence.map(({ t, says }) => `${t / 1e6} ${says}`)).toEqual([
      '885.1 the cooling call was there, power and the high-pressure switch were well, and every delay that can be set was over',
      '1270.1 the output was still off',
      '710.1 the reference control would be on from here, in all 16 variants',
    ]);
    expect(event!.measures).toEqual({ variants: 16 });
  });
});

function disagreements({ points = wired.FULL, protection, unit, sent, until }: Story): EventDraft[] {
  const gateways = [
    { id: 'gateway', heartbeatSeconds: 30 },
    { id: 'other', heartbeatSeconds: 30 },
  ];
  const site = wired.oneUnit(points, protection ?? {}, unit ?? {}, gateways);
  const rows: Row[] = sent.map(([second, signal, value]) => ({
    key: `unit-1/${signal}`,
    t: seconds(second),
    value,
  }));
  for (let at = -5000; at <= until; at += 30)
    for (const { id } of gateways) rows.push({ key: `${id}/life`, t: seconds(at), value: 1 });
  const { events } = foldOnce({
    fold: unitFold,
    history: [{ from: -Infinity, site }],
    subject: { kind: 'unit', site: 'rowan', device: 'unit-1' },
    rows,
    watch: { spans: [{ from: seconds(-5000), to: seconds(until) }] },
    now: seconds(until),
  });
  return events.filter(({ kind }) => kind === 'control-disagrees');
}

/** `on-without-call 500 certain`; both ends where they are more than 3 s apart. */
function fact({ discriminator, start, certainty }: EventDraft): string {
  const [a, b] = [start.earliest / 1e6, start.latest / 1e6].map((second) => Math.round(second * 10) / 10);
  return `${discriminator} ${b! - a! <= 3 ? Math.round(5 * (a! + b!)) / 10 : `${a}..${b}`} ${certainty}`;
}
