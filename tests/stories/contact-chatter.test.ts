import { describe, expect, it } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import { foldOnce, type Row } from '../fixtures/fold-run.ts';
import { CALL, HIGH, LOW, oneUnit, OUTPUT, told, VOLTAGE } from '../fixtures/unit-record.ts';

/**
 * What a technician finds at the inputs of a gateway: contacts that bounce, 24 V AC told as a chatter, samples that come
 * twice or contradict each other (handbook 3, "Contacts"; contract 1.4). A unit is called at 100, its compressor starts at
 * once, the call goes at 700; power and pressure are well throughout.
 */
const LOOP = { signal: 'low-pressure', contact: 'normally-closed', sense: 'loop' };

const line = (
  signal: string,
  ...changes: readonly (readonly [at: number, value: number, quality?: number])[]
): Row[] =>
  changes.map(([at, value, quality = 0]) => ({ key: `unit-1/${signal}`, t: seconds(at), value, quality }));

/** 24 V AC from `from` to `to` behind a half-wave input: closed for 6 of every 16.7 ms (60 Hz) or 4 of 8.3 (120). */
const mains = (signal: string, from: number, to: number, hertz: 60 | 120): Row[] =>
  Array.from({ length: Math.floor((to - from) * hertz) }, (_, i) => from + i / hertz).flatMap((at) =>
    line(signal, [at, 1], [at + (hertz === 60 ? 0.006 : 0.004), 0]),
  );

/** power and pressure are well throughout */
const POWER = [...line('control-voltage', [-200, 26]), ...line('high-pressure', [-200, 1])];
const RUN = line('compressor-output', [-200, 0], [100, 1], [700, 0]);
const CALLED = line('cooling-call', [-200, 0], [100, 1], [700, 0]);

function eventsOf(rows: readonly Row[], low: object = LOW): string[] {
  const site = oneUnit([CALL, OUTPUT, VOLTAGE, HIGH, low]);
  const life = Array.from({ length: 80 }, (_, i) => ({
    key: 'gateway/life',
    t: seconds(-200 + i * 20),
    value: 1,
  }));
  const subject = { kind: 'unit' as const, site: 'rowan', device: 'unit-1' };
  const watch = { spans: [{ from: seconds(-300), to: seconds(1400) }] };
  const all = [...POWER, ...(low === LOW ? line('low-pressure', [-200, 1]) : []), ...rows, ...life];
  const history = [{ from: -Infinity, site }];
  return foldOnce({ fold: unitFold, history, subject, rows: all, watch, now: seconds(1380) }).events.map(
    told,
  );
}

const ORDINARY = ['compressor-run call-ended 100–700 certain/certain'];

describe('a contact that bounces', () => {
  it('for 30 ms as it closes: one call, one run', () => {
    const call = line(
      'cooling-call',
      [-200, 0],
      [100, 1],
      [100.01, 0],
      [100.02, 1],
      [100.025, 0],
      [100.03, 1],
      [700, 0],
    );
    expect(eventsOf([...RUN, ...call])).toEqual(ORDINARY);
  });

  it('for 20 ms in the middle of a run: nothing happened', () => {
    const output = line('compressor-output', [-200, 0], [100, 1], [400, 0], [400.02, 1], [700, 0]);
    expect(eventsOf([...output, ...CALLED])).toEqual(ORDINARY);
  });

  it('opens for 2 s in the middle of a run: that is no bounce, and the call was broken', () => {
    const output = line('compressor-output', [-200, 0], [100, 1], [400, 0], [700, 0]);
    const call = line('cooling-call', [-200, 0], [100, 1], [400, 0], [402, 1], [700, 0]);
    expect(eventsOf([...output, ...call])).toEqual(['compressor-run call-ended 100–400 certain/certain']);
  });
});

describe('24 V AC seen through a half-wave input', () => {
  it.each([60, 120] as const)('a call told as a chatter of %i Hz is one call', (hertz) => {
    const call = [...line('cooling-call', [-200, 0]), ...mains('cooling-call', 100, 700, hertz)];
    expect(eventsOf([...RUN, ...call])).toEqual(ORDINARY);
  });

  it('a low-pressure switch in its loop, told so, has not tripped while the call feeds it', () => {
    const switches = [...line('low-pressure', [-200, 0]), ...mains('low-pressure', 100, 700, 60)];
    expect(eventsOf([...RUN, ...CALLED, ...switches], LOOP)).toEqual([
      // a switch that the call feeds is dark when the call is gone: it can't speak of that very moment
      'compressor-run call-ended 100–700 certain/probable',
    ]);
  });

  it('while it lasts the unit is called and runs', () => {
    const call = [...line('cooling-call', [-200, 0]), ...mains('cooling-call', 100, 700, 60)];
    const output = line('compressor-output', [-200, 0], [100, 1]);
    const site = oneUnit([CALL, OUTPUT, VOLTAGE]);
    const subject = { kind: 'unit' as const, site: 'rowan', device: 'unit-1' };
    const rows = [...POWER, ...output, ...call, { key: 'gateway/life', t: seconds(690), value: 1 }];
    const { standing } = foldOnce({
      fold: unitFold,
      history: [{ from: -Infinity, site }],
      subject,
      rows: rows.filter(({ t }) => t <= seconds(695)),
      now: seconds(695),
    });
    expect(standing!.unit).toMatchObject({ phase: 'running', call: true });
  });
});

describe('samples that come twice, or contradict each other', () => {
  it('the same again changes nothing', () => {
    expect(eventsOf([...RUN, ...RUN, ...CALLED, ...CALLED])).toEqual(ORDINARY);
  });

  it('two values for the instant of the stop: the output isn’t known until its next good sample, and no stop is made of it', () => {
    // merged at the commit: the lesser value, uncertain, flagged as a conflict
    const output = line('compressor-output', [-200, 0], [100, 1], [700, 0, 5], [760, 0]);
    const events = eventsOf([...output, ...CALLED]);
    expect(events.filter((event) => event.includes('certain/certain') && event.includes('700'))).toEqual([]);
  });

  it('a bad sample of a polled output widens the stop to the good ones beside it', () => {
    const polled = { ...OUTPUT, reporting: { mode: 'polled', seconds: 10 } };
    const site = oneUnit([CALL, polled, VOLTAGE]);
    const output = Array.from({ length: 120 }, (_, i) => -200 + i * 10).flatMap((at) =>
      line('compressor-output', [at, +(at >= 100 && at < 700), at === 700 ? 2 : 0]),
    );
    const life = Array.from({ length: 80 }, (_, i) => ({
      key: 'gateway/life',
      t: seconds(-200 + i * 20),
      value: 1,
    }));
    const { events } = foldOnce({
      fold: unitFold,
      history: [{ from: -Infinity, site }],
      subject: { kind: 'unit', site: 'rowan', device: 'unit-1' },
      rows: [...POWER, ...CALLED, ...output, ...life],
      now: seconds(980),
    });
    const [run] = events;
    expect(run!.kind).toBe('compressor-run');
    expect(run!.end).toEqual({ earliest: seconds(690), latest: seconds(710) });
  });
});
