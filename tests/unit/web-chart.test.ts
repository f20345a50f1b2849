import { describe, expect, test } from 'vitest';
import { parseInstant, SECOND, type Instant } from '../../shared/base/instant.ts';
import { exactly } from '../../shared/base/span.ts';
import type { SignalName } from '../../shared/telemetry/signals.ts';
import { chartKey } from '../../web/src/chart/chart-keys.ts';
import { dimensions, noteFits } from '../../web/src/chart/dimensions.ts';
import { lanePath } from '../../web/src/chart/lane-path.ts';
import { eventMarks, noteMarks, shortRunMarks, waitMarks, type Mark } from '../../web/src/chart/marks.ts';
import { plotColumns } from '../../web/src/chart/plot-columns.ts';
import { scaleMarks, scaleOf, valueText } from '../../web/src/chart/rows.ts';
import { rangeName, showingOf, stillWords } from '../../web/src/chart/showing.ts';
import { ticks } from '../../web/src/chart/ticks.ts';
import { around, panned, windowOf, x, zoomed } from '../../web/src/chart/window.ts';
import { zoneNamed } from '../../web/src/page/zone.ts';
import { valueAt, withSamples, type AnalogLane, type ContactLane } from '../../web/src/view/series-view.ts';
import type { EventView } from '../../web/src/view/site-view.ts';

const NOW: Instant = parseInstant('2026-03-03T20:07:32Z')!;
const at = (seconds: number): Instant => NOW + seconds * SECOND;
const zone = zoneNamed('America/Chicago');
const window = { from: at(-1000), to: NOW };

describe('the window', () => {
  test('a live one leaves room for a wait’s end after now', () => {
    const live = windowOf({ kind: 'live', seconds: 1000 }, NOW, 1000);
    expect([live.from, live.to]).toEqual([at(-920), at(80)]);
  });
  test('zooming keeps the place under the pointer', () => {
    const near = zoomed(window, 0.5, 0.25);
    expect(x(at(-750), near, 100)).toBeCloseTo(25, 6);
  });
  test('panning stops where now is still seen', () => {
    expect(panned(window, 5, NOW)).toEqual({ from: at(-920), to: at(80) });
    expect(panned(window, -1, NOW)).toEqual({ from: at(-2000), to: at(-1000) });
  });
  test('an event has room at both sides', () => {
    expect(around(at(-100), at(-90))).toEqual({ from: at(-340), to: at(150) });
  });
  test('is in the address', () => {
    const words = stillWords(window);
    const query = new URLSearchParams({ from: words.from, to: words.to });
    expect(showingOf(query, { kind: 'live', seconds: 1 })).toEqual({ kind: 'still', ...window });
    expect(rangeName(showingOf(new URLSearchParams('range=7d'), { kind: 'live', seconds: 1 }))).toBe('7d');
    expect(showingOf(new URLSearchParams('range=x'), { kind: 'live', seconds: 7200 })).toEqual({
      kind: 'live',
      seconds: 7200,
    });
  });
});

describe('the axis', () => {
  test('marks stand at round wall times', () => {
    expect(ticks({ from: at(-3600), to: NOW }, 600, zone).map(({ label }) => label)).toEqual([
      '13:10',
      '13:20',
      '13:30',
      '13:40',
      '13:50',
      '14:00',
    ]);
  });
  test('the day that is 23 h long has its midnights where the wall has them', () => {
    const week = { from: parseInstant('2026-03-07T00:00:00Z')!, to: parseInstant('2026-03-10T00:00:00Z')! };
    const found = ticks(week, 400, zone).map((tick) => zone.seconds(tick.at));
    expect(new Set(found)).toEqual(new Set(['00:00:00']));
  });
});

const contact = (
  steps: readonly (readonly [number, 0 | 1, number?])[],
  over: Partial<ContactLane> = {},
): ContactLane => ({
  kind: 'contact',
  device: 'unit-1',
  signal: 'compressor-output',
  name: 'compressor output',
  unknown: [],
  crowded: [],
  knownThrough: NOW,
  t: steps.map(([t]) => at(t)),
  earliest: steps.map(([t, , earliest]) => at(earliest ?? t)),
  v: steps.map(([, v]) => v),
  ...over,
});
const frame = { window, width: 1000, high: 0, low: 10, until: NOW };

describe('a contact’s lane', () => {
  test('is a stepped line, high while asserted', () => {
    expect(
      lanePath(
        contact([
          [-2000, 0],
          [-600, 1],
          [-200, 0],
        ]),
        frame,
      ).steps,
    ).toBe('M-4,10H400H400V0H800H800V10H1000');
  });
  test('a change known only to lie between two polls is a slope, its interval shaded', () => {
    const path = lanePath(
      contact([
        [-2000, 0],
        [-600, 1, -610],
      ]),
      frame,
    );
    expect(path.steps).toBe('M-4,10H390H390L400,0H1000');
    expect(path.uncertain).toEqual([[390, 10]]);
  });
  test('has no line where nothing is known', () => {
    const path = lanePath(contact([[-2000, 1]], { unknown: [{ from: at(-500), to: at(-300) }] }), frame);
    expect(path.steps).toBe('M-4,0H500M700,0H1000');
    expect(path.unknown).toEqual([[500, 200]]);
  });
  test('ends where the data end', () => {
    expect(lanePath(contact([[-2000, 1]]), { ...frame, until: at(-100) }).steps).toBe('M-4,0H900');
  });
});

describe('values under the cursor', () => {
  const lane = contact(
    [
      [-600, 1],
      [-200, 0],
    ],
    { unknown: [{ from: at(-100), to: at(-50) }] },
  );
  test('of a contact', () => {
    expect([-700, -600, -300, -200, -75].map((s) => valueAt(lane, at(s)))).toEqual([null, 1, 1, 0, null]);
  });
  const analog: AnalogLane = {
    kind: 'analog',
    device: 'unit-1',
    signal: 'control-voltage',
    name: 'control voltage',
    measure: 'V',
    unknown: [],
    t: [at(-100), at(-95), at(-20)],
    min: [25, 26, 24],
    max: [25, 26, 24],
    mean: [25, 26, 24],
    last: [25, 26, 24],
    breakAfter: 15 * SECOND,
  };
  test('of a line: the nearest drawn, none in a break', () => {
    expect([-98, -96, -60, -22].map((s) => valueAt(analog, at(s)))).toEqual([25, 26, null, 24]);
  });
  test('a break in the record breaks the line', () => {
    expect(plotColumns(analog, null)[3]).toEqual([25, 26, null, 24]);
  });
  test('what reports on change holds its value until the next, and the last until the data end', () => {
    const held = plotColumns({ ...analog, breakAfter: 1000 * SECOND }, at(-5));
    expect(held[3]).toEqual([25, 25, 26, 26, 24, 24]);
    expect(held[0].at(-1)).toBe(at(-5) / SECOND);
    expect(valueAt({ ...analog, breakAfter: 1000 * SECOND }, at(-22), true)).toBe(26);
  });
  test('new samples go on at the live edge, older ones don’t', () => {
    expect(withSamples(analog, [at(-30), at(-10)], [1, 25]).t).toEqual([at(-100), at(-95), at(-20), at(-10)]);
    const grown = withSamples({ ...lane, knownThrough: at(-40) }, [at(-30), at(-10)], [0, 1]) as ContactLane;
    expect([grown.t.at(-1), grown.earliest.at(-1), grown.v.at(-1)]).toEqual([at(-10), at(-30), 1]);
  });
  test('are written in the signal’s own words', () => {
    expect(valueText('high-pressure', 1)).toBe('tripped');
    expect(valueText('control-voltage', 26.13)).toBe('26.1 V');
    expect(valueText('line-voltage', 239.4)).toBe('239 V');
    expect(valueText('cooling-call', null)).toBe('not known');
  });
  test('a scale holds the line and the nearest value that decides', () => {
    const [low, high] = scaleOf(analog, [
      { value: 18, says: 'trip' },
      { value: 5, says: 'gone' },
    ]);
    expect(low).toBeLessThan(18);
    expect(low).toBeGreaterThan(5);
    expect(high).toBeGreaterThan(26);
    expect(scaleMarks([17, 27])).toEqual([20, 25]);
  });
});

const WIRED = new Set<SignalName>(['compressor-output', 'lockout-alarm', 'control-voltage']);
const event = (over: Partial<EventView>): EventView =>
  ({
    id: 'e',
    kind: 'compressor-run',
    cause: null,
    certainty: 'certain',
    causeCertainty: null,
    pending: [],
    candidates: [],
    evidence: [],
    members: [],
    measures: {},
    ...over,
  }) as EventView;
const run = (start: number, end: number | null, cause: EventView['cause'] = 'call-ended') =>
  event({ id: `run${start}`, start: exactly(at(start)), end: end === null ? null : exactly(at(end)), cause });

describe('what is drawn on the lanes', () => {
  const lengths = { offDelay: 210, powerUpDelay: 141, assumed: false };
  test('after a run the off-cycle delay, its length written, until the next run at the latest', () => {
    const waits = waitMarks([run(-900, -800), run(-690, -400), run(-100, null)], WIRED, lengths);
    expect(waits.map(({ label }) => label)).toEqual(['off-cycle delay 1:50', 'off-cycle delay 3:30']);
  });
  test('where a soft lockout follows, that is drawn instead', () => {
    const soft = event({
      id: 's',
      kind: 'soft-lockout',
      cause: 'high-pressure',
      start: exactly(at(-800)),
      end: exactly(at(-590)),
    });
    expect(waitMarks([run(-900, -800, 'high-pressure'), soft], WIRED, lengths)).toEqual([]);
    expect(eventMarks([soft], WIRED, zone.clock)[0]).toMatchObject({
      signal: 'compressor-output',
      drawing: 'stopped-itself',
      label: 'soft lockout 3:30',
      open: false,
    });
  });
  test('after a power return the power-up delay', () => {
    const loss = event({
      id: 'p',
      kind: 'power-loss',
      cause: 'supply',
      start: exactly(at(-300)),
      end: exactly(at(-260)),
    });
    const labels = waitMarks([run(-900, -300, 'power-lost'), loss], WIRED, lengths).map(({ label }) => label);
    expect(labels).toEqual(['power-up delay 2:21']);
  });
  test('a power loss ends the off-cycle delay and begins another wait', () => {
    const loss = event({
      id: 'p',
      kind: 'power-loss',
      cause: 'supply',
      start: exactly(at(-300)),
      end: exactly(at(-260)),
    });
    const labels = waitMarks([run(-900, -400), loss], WIRED, lengths).map(({ label }) => label);
    expect(labels).toEqual(['off-cycle delay 1:40', 'power-up delay 2:21']);
  });
  test('a hard lockout is drawn on the alarm contact, or on the output where none is wired', () => {
    const hard = event({
      kind: 'hard-lockout',
      cause: 'high-pressure',
      start: exactly(at(-60)),
      end: null,
      pending: ['end'],
    });
    expect(eventMarks([hard], WIRED, zone.clock)[0]).toMatchObject({ signal: 'lockout-alarm', open: false });
    expect(eventMarks([hard], new Set<SignalName>(['compressor-output']), zone.clock)[0]!.signal).toBe(
      'compressor-output',
    );
  });
  test('what is uncertain or waits for its cause is drawn open', () => {
    const open = event({ kind: 'soft-lockout', start: exactly(at(-60)), end: null, pending: ['cause'] });
    expect(eventMarks([open], WIRED, zone.clock)[0]!.open).toBe(true);
  });
  test('a short run before a stop is dimensioned, and the reason written beside the stop', () => {
    expect(
      shortRunMarks([run(-100, -59, 'high-pressure'), run(-900, -800)], WIRED).map(({ label }) => label),
    ).toEqual(['41 s']);
    const hard = event({
      kind: 'hard-lockout',
      start: exactly(at(-59)),
      end: null,
      candidates: [{ cause: 'low-pressure', fit: 'excluded', because: 'too soon' }],
    });
    expect(noteMarks([hard], WIRED)).toEqual([
      { id: 'e', signal: 'compressor-output', at: at(-59), text: 'not low pressure: too soon' },
    ]);
  });
});

describe('dimension lines', () => {
  const mark = (
    id: string,
    from: number,
    to: number,
    label: string,
    drawing: Mark['drawing'] = 'waiting',
  ): Mark => ({
    id,
    signal: 'compressor-output',
    drawing,
    start: exactly(at(from)),
    end: exactly(at(to)),
    label,
    short: '3:30',
    says: label,
    event: null,
    open: false,
  });
  test('the words between the arrows, the length alone where there is less room, nothing where there is none', () => {
    const lines = dimensions(
      [
        mark('a', -900, -700, 'off-cycle delay 3:30'),
        mark('b', -600, -550, 'off-cycle delay 3:30'),
        mark('c', -400, -390, 'off-cycle delay 3:30'),
      ],
      window,
      1000,
      NOW,
    );
    expect(lines.map(({ id, label, arrows }) => [id, label, arrows])).toEqual([
      ['a', 'off-cycle delay 3:30', 'inward'],
      ['b', '3:30', 'inward'],
    ]);
  });
  test('what is abnormal has its words beside it rather than none, and goes first', () => {
    const lines = dimensions(
      [mark('a', -500, -400, '1:40'), mark('s', -520, -500, 'soft lockout 0:20', 'stopped-itself')],
      window,
      1000,
      NOW,
    );
    expect(lines.map(({ id, arrows }) => [id, arrows])).toEqual([['s', 'outward']]);
  });
  test('a note is written only where it fits', () => {
    expect(noteFits('too soon', 100, 200)).toBe(true);
    expect(noteFits('too soon', 100, 130)).toBe(false);
  });
});

test('keys move the cursor, pan, zoom and go to now; with Ctrl they stay the browser’s', () => {
  const key = (name: string, shiftKey = false, ctrlKey = false) =>
    chartKey({ key: name, shiftKey, ctrlKey, metaKey: false, altKey: false });
  expect(key('ArrowLeft')).toEqual({ kind: 'cursor', pixels: -4 });
  expect(key('ArrowLeft', true)).toEqual({ kind: 'pan', share: -0.25 });
  expect(key('+', true)).toEqual({ kind: 'zoom', factor: 0.5 });
  expect(key('End')).toEqual({ kind: 'live' });
  expect(key('+', false, true)).toBeNull();
  expect(key('a')).toBeNull();
});
