import { describe, expect, it } from 'vitest';
import { inSeconds } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { WarmingRoom } from '../fixtures/warming-room.ts';
import { fact, foldStory, wired } from './run.ts';

/**
 * A shelter with a limit of 35 °C, kept between 23 and 25 °C: how its cooling goes, and what is said of it before the limit
 * is there. The shelter is simulated with one mass (it settles 30 K above outdoors, with a time constant of 5 h), its
 * thermometers are read each minute, everything else is told as it changes. Times are minutes after the cooling went.
 */
const HOUR = 3600;

interface Account {
  readonly units: number;
  readonly outdoors: number;
  /** hours of ordinary running before */
  readonly hours: number;
  /** lines from the instant on at which cooling goes: seconds after it */
  readonly then: readonly string[];
  /** units that go on running without a break */
  readonly left: number;
  /** seconds after which all can run again */
  readonly backAfter?: number;
  readonly readAfter: number;
  readonly wiredOutdoors?: boolean;
}

/** Each unit takes out so much, W; the shelter sets free 1,500 W and loses 50 W/K. */
const CAPACITY = 3000;

function told(account: Account): { events: EventDraft[]; gone: number; limitAt: number | null } {
  const warming = new WarmingRoom({
    air: 5 * HOUR * 50,
    mass: 0,
    coupling: 0,
    conductance: 50,
    heat: () => 1500,
    outdoors: () => account.outdoors,
    capacity: CAPACITY,
    noise: 0.03,
  });
  const lines: string[] = [];
  const gone = account.hours * HOUR;
  let on = false;
  const sample = (): void => {
    if (Math.round(warming.t) % 60 !== 0) return;
    lines.push(`${warming.t}: room space-temperature ${warming.shown.toFixed(2)}`);
    if (account.wiredOutdoors !== false)
      lines.push(`${warming.t}: site outdoor-temperature ${account.outdoors}`);
  };
  // the units take turns
  let turn = 1;
  while (warming.t < gone) {
    sample();
    warming.step(10, on);
    if (on && warming.air < 23) lines.push(`${warming.t}: unit-${turn} stops`);
    else if (!on && warming.air > 25)
      lines.push(`${warming.t}: unit-${(turn = (turn % account.units) + 1)} starts`);
    else continue;
    on = !on;
  }
  if (on) lines.push(`${gone}: unit-${turn} stops`);
  lines.push(...account.then.map((line) => line.replace(/^\d+/, (at) => String(gone + Number(at)))));
  let limitAt: number | null = null;
  while (warming.t < gone + account.readAfter) {
    sample();
    const cooled = account.left > 0 || warming.t - gone >= (account.backAfter ?? Infinity);
    warming.step(10, cooled);
    if (limitAt === null && warming.air > 35) limitAt = warming.t - gone;
  }
  const sorted = lines.sort((a, b) => parseFloat(a) - parseFloat(b));
  const { events } = foldStory({
    name: '',
    about: 'room',
    site: {
      panels: [{ id: 'panel-a' }],
      spaces: [
        {
          id: 'room',
          limits: { temperature: 35 },
          points: [{ signal: 'space-temperature', reporting: { mode: 'polled', seconds: 60 } }],
        },
      ],
      units: Array.from({ length: account.units }, (_, i) => wired(`unit-${i + 1}`, { space: 'room' })),
      points: [{ signal: 'outdoor-temperature', reporting: { mode: 'polled', seconds: 60 } }],
    },
    happens: sorted,
    facts: [],
    readAt: gone + account.readAfter,
  });
  const forecasts = events.filter(({ kind }) => kind === 'high-temperature');
  return { events: forecasts.map((event) => after(event, gone)), gone, limitAt };
}

/** Times in minutes after the cooling went, as whole seconds of the story's clock. */
function after(event: EventDraft, gone: number): EventDraft {
  const minutes = (t: number): number => Math.round((inSeconds(t) - gone) / 6) * 100_000;
  const span = ({ earliest, latest }: EventDraft['start']) => ({
    earliest: minutes(earliest),
    latest: minutes(latest),
  });
  return { ...event, start: span(event.start), end: event.end && span(event.end) };
}

const facts = ({ events }: ReturnType<typeof told>): string[] => events.map(fact);

/** The limit between these minutes after the cooling went, as last said. */
function range(event: EventDraft): [number, number | null] {
  const from = inSeconds(event.start.latest);
  const minutes = (name: string): number | null =>
    name in event.measures ? Math.round(from + (event.measures[name] as number) / 60) : null;
  return [minutes('soonestSeconds')!, minutes('latestSeconds')];
}

const HARD = { left: 0, then: ['0: unit-1 latches out'], readAfter: 3 * HOUR };

describe('high temperature, forecast', () => {
  it('the one unit latches out after a day of ordinary running: told in good time, the truth in its range', () => {
    const story = told({ units: 1, outdoors: 30, hours: 24, ...HARD });
    expect(facts(story)).toEqual([
      'high-temperature forecast 9–101..102 probable/probable: unit-1',
      'high-temperature measured 101..102–… certain/certain',
    ]);
    const [soonest, latest] = range(story.events[0]!);
    expect(story.limitAt! / 60).toBeCloseTo(101.5, 1);
    expect(soonest).toBeLessThanOrEqual(101.5);
    expect(latest).toBeGreaterThanOrEqual(101.5);
    expect(story.events[0]!.measures).toMatchObject({ by: 'one mass fitted to its own off periods' });
    expect(story.events[0]!.evidence.map(({ signal, value, says }) => [signal, value, says])).toEqual([
      ['compressor-output', null, 'hard lockout'],
      [
        'compressor-output',
        null,
        'over the 2.8 h before, the units’ run fractions add up to 0.59; none is left',
      ],
      ['space-temperature', 26.01, 'so warm it was then'],
      ['outdoor-temperature', 30, 'and so warm outdoors'],
    ]);
  });

  it('nothing learned yet: no sooner than at the fastest rise seen, and only possible', () => {
    const story = told({ units: 1, outdoors: 30, hours: 0.2, ...HARD });
    expect(facts(story)).toEqual([
      'high-temperature forecast 22–103..104 possible/possible: unit-1',
      'high-temperature measured 103..104–… certain/certain',
    ]);
    expect(story.limitAt! / 60).toBeCloseTo(103.5, 1);
    expect(story.events[0]!.measures['by']).toBe('the fastest rise seen: too little to fit');
  });

  it('no thermometer outdoors: the same bound, however long it is watched', () => {
    const story = told({ units: 1, outdoors: 30, hours: 24, ...HARD, wiredOutdoors: false });
    expect(facts(story)).toEqual([
      'high-temperature forecast 22–101..102 possible/possible: unit-1',
      'high-temperature measured 101..102–… certain/certain',
    ]);
    expect(story.events[0]!.measures['by']).toBe('the fastest rise seen: too little to fit');
  });

  it('it loses power and has it back before the limit is there: the forecast ends with the power’s return', () => {
    const then = ['0: unit-1 loses power', '2400: unit-1 has power again', '2540: unit-1 starts'];
    const story = told({
      units: 1,
      outdoors: 30,
      hours: 24,
      left: 0,
      backAfter: 2540,
      then,
      readAfter: 3 * HOUR,
    });
    expect(facts(story)).toEqual(['high-temperature forecast 9–40 probable/probable: unit-1']);
    expect(story.limitAt).toBeNull();
  });

  it('one of two latches out on a mild day: what ran 0.45 of the time the other carries alone', () => {
    const then = ['0: unit-2 latches out', '60: unit-1 starts'];
    const story = told({ units: 2, outdoors: 20, hours: 24, left: 1, then, readAfter: 3 * HOUR });
    expect(facts(story)).toEqual([]);
  });

  it('cold outdoors: it settles below its limit, and nothing is forecast', () => {
    const story = told({ units: 1, outdoors: 2, hours: 24, ...HARD, readAfter: 10 * HOUR });
    expect(facts(story)).toEqual([]);
    expect(story.limitAt).toBeNull();
  });
});
