import { describe, expect, it } from 'vitest';
import { readReplayArguments } from '../../server/replay/command-arguments.ts';
import { seconds } from '../../shared/base/instant.ts';
import { contextOf } from '../../shared/inference/sources.ts';
import { compareEvents } from '../../shared/replay/compare-events.ts';
import { departuresOf } from '../../shared/replay/departures.ts';
import { openingPage } from '../../shared/replay/opening.ts';
import { withSettings } from '../../shared/wire/replay-ask.ts';
import type { SiteDocument } from '../../shared/wire/site-document.ts';
import { isChanged, settingsOf, type Field } from '../../web/src/replay/fields.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';
import { foldStory } from '../stories/run.ts';
import { CALL, oneUnit, OUTPUT, VOLTAGE_POLLED } from '../fixtures/unit-record.ts';

const SCHOOL = SMALL_SCHOOL as SiteDocument;

describe('other settings', () => {
  it('take the place of what the document has, and leave the rest', () => {
    const other = withSettings('school', SCHOOL, {
      units: [{ id: 'unit-1', protection: { offDelay: 240 } }],
      panels: [{ id: 'panel-a', minimumStartSeparation: 3 }],
    });
    if (!other.ok) throw new Error(JSON.stringify(other.faults));
    expect(other.site.units[0]!.protection.offDelay).toEqual({ value: 240, known: 'recorded' });
    expect(other.site.units[0]!.protection.lowPressureBypass.value).toBe(120);
    expect(other.site.panels[0]!.minimumStartSeparationSeconds).toBe(3);
    expect(other.site.panels[0]!.points).toHaveLength(1);
  });

  it('of something that isn’t there, or twice, are refused with their place', () => {
    const twice = withSettings('school', SCHOOL, {
      units: [
        { id: 'unit-1', protection: { offDelay: 240 } },
        { id: 'unit-1', protection: { offDelay: 250 } },
      ],
      spaces: [{ id: 'attic', unitsNeeded: 2 }],
    });
    expect(twice).toMatchObject({ ok: false });
    expect(twice.ok || twice.faults.map(({ pointer }) => pointer)).toEqual([
      '/settings/units/1/id',
      '/settings/spaces/0/id',
    ]);
  });
});

describe('the command', () => {
  const given = ['--site', 'rowan', '--from', '2026-03-03T14:00:00Z', '--to', '2026-03-03T15:00:00Z'];

  it('gathers settings by device', () => {
    const sets = ['unit-2.offDelay=240', 'unit-2.undervoltageTrip=null', 'unit-2.stopsCounted=by-switch'];
    const more = ['panel-a.minimumStartSeparation=3', 'room-1.temperature=28'];
    const read = readReplayArguments([...given, ...[...sets, ...more].flatMap((one) => ['--set', one])]);
    expect(read).toMatchObject({
      ok: true,
      api: 'http://127.0.0.1:8080',
      asked: {
        site: 'rowan',
        settings: {
          units: [
            {
              id: 'unit-2',
              protection: { offDelay: 240, undervoltageTrip: null, stopsCounted: 'by-switch' },
            },
          ],
          panels: [{ id: 'panel-a', minimumStartSeparation: 3 }],
          spaces: [{ id: 'room-1', limits: { temperature: 28 } }],
        },
      },
    });
  });

  it.each([
    [given.slice(2), '--site, --from and --to are needed.'],
    [[...given, '--set', 'offDelay=240'], '--set takes <device>.<setting>=<value>'],
    [[...given, '--set', 'unit-2.delay=240'], 'There is no setting "delay" that a replay can change'],
    [[...given, '--timer-error', '2'], '--timer-error takes a share from 0 to 0.2'],
    [[...given, '--colour'], '--colour'],
  ])('says what is wrong: %j', (list, says) => {
    const read = readReplayArguments(list);
    expect(read.ok || read.help).toContain(says);
    expect(read.ok || read.help).toContain('npm run replay');
  });
});

describe('the form', () => {
  const field = (key: string, over: Partial<Field>): Field => {
    const [device, setting] = key.split('.') as [string, string];
    return {
      key,
      device,
      setting,
      today: 210,
      measure: 's',
      choices: null,
      range: null,
      of: 'unit',
      ...over,
    };
  };
  it('sends what differs from today, and nothing else', () => {
    const fields = [
      field('unit-2.offDelay', {}),
      field('unit-2.undervoltageTrip', { today: 18 }),
      field('unit-2.stopsCounted', { today: 'either', choices: ['either', 'together', 'by-switch'] }),
      field('panel-a.minimumStartSeparation', { today: 2, of: 'panel' }),
      field('room-1.temperature', { today: 30, of: 'space' }),
    ];
    const texts = { 'unit-2.offDelay': '240', 'unit-2.undervoltageTrip': '', 'room-1.temperature': '30' };
    expect(settingsOf(fields, texts)).toEqual({
      units: [{ id: 'unit-2', protection: { offDelay: 240, undervoltageTrip: null } }],
    });
    expect(isChanged(fields[0]!, '210')).toBe(false);
  });
});

describe('where two outputs part', () => {
  const change = (second: number, on: boolean) => ({
    at: { earliest: seconds(second - 0.1), latest: seconds(second + 0.1) },
    on,
  });
  it('a start three seconds later is held off meanwhile; one within half a second is none', () => {
    const seen = { first: false, changes: [change(141, true)] };
    const replayed = { first: false, changes: [change(144, true)] };
    expect(departuresOf(replayed, seen, 0, seconds(600))).toMatchObject([
      { kind: 'held-off', from: seconds(141.1), to: seconds(143.9), by: 'start' },
    ]);
    const near = { first: false, changes: [change(141.6, true)] };
    expect(departuresOf(near, seen, 0, seconds(600))).toEqual([]);
  });
});

describe('what stood when a stretch begins', () => {
  const site = oneUnit([CALL, OUTPUT, VOLTAGE_POLLED]);
  const context = contextOf(
    [{ from: -Infinity, site }],
    { kind: 'unit', site: 'rowan', device: 'unit-1' },
    {
      spans: [],
    },
  );
  const row = (second: number, value: number) => ({ t: seconds(second), value, quality: 0 });
  const told = (ago: Record<string, number | null>) => {
    const newest = context.sources.map(({ key }) => {
      const second = ago[key] ?? null;
      return second === null ? null : row(second, 1);
    });
    const page = openingPage(context, newest, seconds(1000));
    return Array.from({ length: page.length }, (_, i) => context.sources[page.source[i]!]!.key);
  };
  it('a contact that reports on change stands as long as its gateway lived; a polled point for three polls', () => {
    const all = { 'unit-1/cooling-call': 10, 'unit-1/compressor-output': 20, 'unit-1/control-voltage': 990 };
    expect(told({ ...all, 'gateway/life': 990 })).toEqual([
      'unit-1/cooling-call',
      'unit-1/compressor-output',
      'unit-1/control-voltage',
      'gateway/life',
    ]);
    // heartbeats each 30 s: silent for 100 s is unknown (handbook 3)
    expect(told({ ...all, 'gateway/life': 900 })).toEqual(['unit-1/control-voltage']);
    expect(told({ 'unit-1/control-voltage': 984 })).toEqual([]);
  });
});

describe('events compared', () => {
  const restart = (second: number, minimum: number) =>
    foldStory({
      name: '',
      about: 'panel-a',
      site: {
        panels: [{ id: 'panel-a', minimumStartSeparation: minimum }],
        units: ['unit-1', 'unit-2'].map((id) => ({
          id,
          panel: 'panel-a',
          points: [CALL, OUTPUT, { signal: 'control-voltage', reporting: { mode: 'on-change' } }],
        })),
      },
      happens: [
        ...['unit-1', 'unit-2'].flatMap((id) => [`0: ${id} loses power`, `40: ${id} has power again`]),
        ...['unit-1', 'unit-2'].map((id) => `40: ${id} is called`),
        '181: unit-1 starts',
        `${second}: unit-2 starts`,
      ],
      facts: [],
    }).events;
  const stretch = { from: 0, to: seconds(1000) };
  const kinds = (a: number, b: number, minimum = 2) =>
    compareEvents(restart(a, 2), restart(b, minimum), stretch).map(
      ({ kind, seen, replayed }) => `${kind} ${(seen ?? replayed)!.kind}`,
    );

  it('the same again is no difference, nor is a start within its interval', () => {
    expect(kinds(184, 184)).toEqual([]);
    expect(kinds(184, 184.1)).toEqual([]);
  });
  it('starts that come together are another restart and one event more', () => {
    expect(kinds(184, 181.5)).toEqual(['changed restart-sequence', 'only-replayed simultaneous-start']);
  });
  it('the same starts under another minimum are judged otherwise', () => {
    expect(kinds(184, 184, 4)).toEqual(['changed restart-sequence', 'only-replayed simultaneous-start']);
  });
});
