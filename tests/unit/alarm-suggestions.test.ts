import { expect, test } from 'vitest';
import { announcedIn } from '../../shared/alarms/performance/announced.ts';
import { liveAgain, type Lived } from '../../shared/alarms/performance/replay.ts';
import { suggest } from '../../shared/alarms/performance/suggest.ts';
import { inSeconds, seconds, type Instant } from '../../shared/base/instant.ts';
import { exactly } from '../../shared/base/span.ts';
import { eventId, type EventDraft } from '../../shared/inference/event.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';

/** What a longer delay would have spared, lived through by the alarm machine itself (handbook 7, measures). */
const START = 1_700_000_000;
const at = (second: number): Instant => seconds(START + second);
const parsed = parseConfiguration('oak', {
  timeZone: 'UTC',
  gateways: [{ id: 'gateway' }],
  panels: [{ id: 'panel-a' }],
  spaces: [{ id: 'room' }],
  units: ['unit-1', 'unit-2'].map((id) => ({ id, panel: 'panel-a', space: 'room' })),
});
if (!parsed.ok) throw new Error('faults');
const { site } = parsed;

function unitWithoutPower(from: number, length: number | null): EventDraft {
  return {
    id: eventId({ kind: 'unit', site: 'oak', device: 'unit-1' }, 'power-loss', '', at(from)),
    site: 'oak',
    panel: 'panel-a',
    unit: 'unit-1',
    space: 'room',
    kind: 'power-loss',
    cause: 'unit-only',
    start: exactly(at(from)),
    end: length === null ? null : exactly(at(from + length)),
    certainty: 'certain',
    causeCertainty: 'certain',
    pending: [],
    measures: {},
    candidates: [],
    evidence: [],
    members: [],
    discriminator: '',
  };
}

function toEnd<R>(run: Generator<void, R>): R {
  for (;;) {
    const next = run.next();
    if (next.done) return next.value;
  }
}

const lived = (events: readonly EventDraft[], more: Partial<Lived> = {}): Lived => ({
  site,
  tuning: [],
  stretch: { from: at(0), to: at(30 * 86_400) },
  events,
  commands: [],
  ...more,
});

const HOURS = 3600;
/** a breaker that trips and is pushed in again: six times within 80 s, twice for an hour; a blink of 40 s each day */
const LOSSES = [
  ...[64, 66, 70, 74, 78, 79].map((length, n) => unitWithoutPower(1000 + n * 10 * HOURS, length)),
  unitWithoutPower(102 * HOURS, HOURS),
  unitWithoutPower(202 * HOURS, HOURS),
  ...Array.from({ length: 20 }, (_, day) => unitWithoutPower(day * 24 * HOURS + 5 * HOURS, 40)),
];

test('the replay raises what outlasts its on-delay, 60 s after it began, and nothing else', () => {
  const announced = announcedIn(toEnd(liveAgain(lived(LOSSES))));
  expect(announced.map((one) => [inSeconds(one.at) - START, inSeconds(one.goneAt! - one.at)])).toEqual(
    [...LOSSES.slice(0, 8)]
      .map(({ start, end }) => [
        inSeconds(start.latest) - START + 60,
        inSeconds(end!.latest - start.latest) - 60,
      ])
      .toSorted((a, b) => a[0]! - b[0]!),
  );
});

test('an on-delay of 90 s would have avoided 6 of 8, none of which stood for longer than 79 s', () => {
  const { suggestions, replayed, without } = toEnd(suggest(lived(LOSSES)));
  expect([...replayed]).toEqual([['unit-power-loss:unit/unit-1', 8]]);
  expect(without).toEqual([]);
  expect(suggestions).toMatchObject([
    {
      key: 'unit-power-loss:unit/unit-1',
      rule: 'unit-power-loss',
      unit: 'unit-1',
      field: 'onDelaySeconds',
      now: 60,
      then: 90,
      of: 8,
      avoided: 6,
      avoidedElsewhere: 0,
      longestAvoided: 79,
    },
  ]);
  expect(suggestions[0]!.spared.map((one) => inSeconds(one.goneAt! - one.at) + 60)).toEqual([
    64, 66, 70, 74, 78, 79,
  ]);
});

test('with that delay set already there is nothing more to suggest', () => {
  const tuning = [{ rule: 'unit-power-loss', unit: 'unit-1', onDelaySeconds: 90 } as const];
  expect(toEnd(suggest(lived(LOSSES, { tuning })))).toMatchObject({ suggestions: [], without: [] });
});

test('one that comes and goes is bridged by an off-delay; the machine says how many announcements are left', () => {
  const blinks = Array.from({ length: 10 }, (_, n) => unitWithoutPower(1000 + n * 300, 280));
  const { suggestions } = toEnd(suggest(lived(blinks)));
  // 20 s between two, then 60 s of on-delay: 80 s from the end of one alarm to the next
  expect(suggestions).toMatchObject([
    { field: 'onDelaySeconds', then: 300, of: 10, avoided: 10, longestAvoided: 280 },
    { field: 'offDelaySeconds', now: 0, then: 90, of: 10, avoided: 9 },
  ]);
});

test('what was shelved then asks nobody in the replay either', () => {
  const losses = [
    unitWithoutPower(1000, HOURS),
    unitWithoutPower(10 * HOURS, HOURS),
    unitWithoutPower(20 * HOURS, HOURS),
  ];
  const [first] = announcedIn(toEnd(liveAgain(lived(losses))));
  const asked = {
    kind: 'shelve',
    by: 'Ada',
    at: at(2000),
    until: at(15 * HOURS),
    reason: 'part on order',
  } as const;
  const commands = [
    { command: { id: 'c', kind: 'alarm', alarm: first!.alarm, asked } as const, at: at(2000) },
  ];
  const announced = announcedIn(toEnd(liveAgain(lived(losses, { commands }))));
  expect(announced.map((one) => inSeconds(one.at) - START)).toEqual([1060, 20 * HOURS + 60]);
});
