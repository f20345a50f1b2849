import { describe, expect, it } from 'vitest';
import { observabilityOf } from '../../shared/inference/observability.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';

/**
 * What somebody is told who asks: "what can you know of this unit, and what would it take to know more?" (handbook 3).
 * Each story is a unit as it is wired, and the sentences that its page reads out.
 */
interface Story {
  readonly name: string;
  readonly points: readonly (string | object)[];
  readonly protection?: object;
  /** points of the panel's other unit; absent: it is alone there */
  readonly neighbour?: readonly (string | object)[];
  readonly can: readonly string[];
  readonly cannot: readonly string[];
  readonly best: string;
}

const every = (seconds: number, ...signals: string[]) =>
  signals.map((signal) => ({ signal, reporting: { mode: 'polled', seconds } }));

const STORIES: readonly Story[] = [
  {
    name: 'call and output looked at every 10 s, beside a unit whose output reports on change',
    points: every(10, 'cooling-call', 'compressor-output'),
    protection: { offDelay: 210 },
    neighbour: ['compressor-output'],
    can: [
      'Runs are seen at the control’s output.',
      'A stop while the call stays is told from a satisfied thermostat.',
      'An output that is on against its call is told.',
    ],
    cannot: [
      'With no pressure contacts the cause of a stop is told by timing alone, or not at all.',
      'With no alarm contact a hard lockout is only probable, once a retry is overdue.',
      'With no control voltage a power loss can’t be told from a stop.',
      'With no compressor current nobody sees whether the compressor follows its contactor.',
      'A call that isn’t answered is told as the control’s fault only with its own call and the high-pressure switch on change, and control voltage.',
    ],
    best: 'Report the compressor output on change instead of every 10 s, and starts 3 s apart can be told.',
  },
  {
    name: 'a relay on the alarm and nothing else',
    points: ['lockout-alarm'],
    can: ['A hard lockout is told by the control’s own alarm.'],
    cannot: [
      'With nothing that shows the compressor, runs, starts and short cycles can’t be told.',
      'With no call contact a protective stop can’t be told from a satisfied thermostat.',
      'With no pressure contacts the cause of a stop is told by timing alone, or not at all.',
      'With no control voltage a power loss can’t be told from a stop.',
      'With no compressor current nobody sees whether the compressor follows its contactor.',
      'With no contact at the control’s output it can’t be held against the reference control.',
    ],
    best: 'Wire the control voltage, and a power loss and control voltage out of range can be told for certain.',
  },
  {
    name: 'well wired, but nobody has written down its off-cycle delay',
    points: [
      'cooling-call',
      'compressor-output',
      'lockout-alarm',
      { signal: 'control-voltage', reporting: { mode: 'on-change' } },
      { signal: 'high-pressure', contact: 'normally-closed', sense: 'isolated' },
      { signal: 'low-pressure', contact: 'normally-closed', sense: 'isolated' },
    ],
    can: [
      'Runs are seen at the control’s output.',
      'A stop while the call stays is told from a satisfied thermostat.',
      'High and low pressure are told apart.',
      'A hard lockout is told by the control’s own alarm.',
      'A loss of control power and a low voltage are seen.',
      'An output that is on against its call, high pressure or power is told.',
      'A call that the control doesn’t answer, though nothing holds it off, is told.',
    ],
    cannot: ['With no compressor current nobody sees whether the compressor follows its contactor.'],
    best: 'Record the off-cycle delay, and a start that came too early and a delay that isn’t as recorded can be told for certain.',
  },
  {
    name: 'the call taken at the thermostat, before the economiser',
    points: [{ signal: 'cooling-call', sense: 'upstream' }, 'compressor-output', 'lockout-alarm'],
    protection: { offDelay: 210 },
    can: ['Runs are seen at the control’s output.', 'A hard lockout is told by the control’s own alarm.'],
    cannot: [
      'The call is sensed upstream: whatever holds it off after that looks like a stop.',
      'With no pressure contacts the cause of a stop is told by timing alone, or not at all.',
      'With no control voltage a power loss can’t be told from a stop.',
      'With no compressor current nobody sees whether the compressor follows its contactor.',
      'A call that isn’t answered is told as the control’s fault only with its own call and the high-pressure switch on change, and control voltage.',
    ],
    best: 'Wire the control voltage, and a power loss and a loss of cooling can be told for certain.',
  },
];

function siteOf({ points, protection, neighbour }: Story) {
  const wired = (all: readonly (string | object)[]) =>
    all.map((one) => (typeof one === 'string' ? { signal: one } : one));
  const units = [
    { id: 'unit-1', panel: 'panel-a', points: wired(points), ...(protection ? { protection } : {}) },
    ...(neighbour ? [{ id: 'unit-2', panel: 'panel-a', points: wired(neighbour) }] : []),
  ];
  const parsed = parseConfiguration('rowan', {
    timeZone: 'America/Chicago',
    gateways: [{ id: 'gateway', heartbeatSeconds: 30 }],
    panels: [{ id: 'panel-a', minimumStartSeparation: 2 }],
    units,
  });
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return parsed.site;
}

describe('what a unit’s wiring lets one know', () => {
  it.each(STORIES)('$name', (story) => {
    const { summary, changes } = observabilityOf(siteOf(story), 'unit-1')!;
    const said = (can: boolean) => summary.filter((one) => one.can === can).map(({ says }) => says);
    expect(said(true)).toEqual(story.can);
    expect(said(false)).toEqual(story.cannot);
    expect(changes[0]?.says).toBe(story.best);
  });
});
