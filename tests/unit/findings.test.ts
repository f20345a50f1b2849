import { describe, expect, it } from 'vitest';
import {
  findingsFaults,
  READING_KINDS,
  readingRow,
  type Findings,
  type Reading,
} from '../../shared/visit/findings.ts';
import { isWorthAgain } from '../../web/src/page/waiting.ts';
import { bodyOf, readWishes, wishText, type Wish } from '../../web/src/visit/wish.ts';
import { barOf } from '../../web/src/visit/bar.ts';
import type { VisitAnswer } from '../../shared/wire/visit-answer.ts';
import { findingsOf, noDraft } from '../../web/src/visit/findings-draft.ts';

const findings = (readings: readonly Reading[], more: Partial<Findings> = {}): Findings => ({
  shown: null,
  cause: 'outdoor-fan',
  causeSays: null,
  action: 'capacitor replaced',
  parts: [],
  readings,
  ...more,
});

describe('findings', () => {
  it.each<[Reading, string | null]>([
    [{ of: 'discharge-pressure', value: 420, measure: 'psi' }, null],
    // 2,900 kPa are 420.6 psi
    [{ of: 'discharge-pressure', value: 2900, measure: 'kPa' }, null],
    [
      { of: 'discharge-pressure', value: 2900, measure: 'psi' },
      'Discharge pressure of 2900 psi can’t be (0 to 800 psi)',
    ],
    [{ of: 'suction-pressure', value: 9, measure: 'bar' }, null],
    [{ of: 'supply-air', value: 55, measure: '°F' }, null],
    // 180 °F are 82.2 °C
    [{ of: 'supply-air', value: 180, measure: '°F' }, 'Supply air of 180 °F can’t be (-22 to 176 °F)'],
    [{ of: 'line-voltage', value: 240, measure: 'A' }, 'Line voltage isn’t read in A: give V.'],
    [{ of: 'superheat', value: 18, measure: '°F difference' }, null],
  ])('%o: %s', (reading, says) => {
    const faults = findingsFaults(findings([reading])).map(({ message }) => message);
    expect(faults).toEqual(says === null ? [] : [expect.stringContaining(says)]);
  });

  it('every reading has a measure and a range', () => {
    for (const kind of READING_KINDS) {
      const { measures, range } = readingRow(kind);
      expect([kind, measures.length > 0, range[0] < range[1]]).toEqual([kind, true, true]);
    }
  });

  it('a cause that is something else has to be said', () => {
    expect(findingsFaults(findings([], { cause: 'other' }))).toEqual([
      { pointer: '/causeSays', message: 'Say what the cause was.' },
    ]);
    expect(findingsFaults(findings([], { cause: 'other', causeSays: 'a wasps’ nest' }))).toEqual([]);
  });

  it('a form with a reading left empty is taken without it; a comma is a decimal point', () => {
    const reading = (value: string) => ({ of: 'control-voltage', value, measure: 'V' }) as const;
    const draft = { ...noDraft(), cause: 'other', causeSays: 'x', action: 'y', parts: ' a \n\n b' } as const;
    expect(findingsOf({ ...draft, readings: [reading('26,4'), reading('')] })).toMatchObject({
      parts: ['a', 'b'],
      readings: [{ of: 'control-voltage', value: 26.4, measure: 'V' }],
    });
    expect(findingsOf({ ...draft, readings: [reading('much')] })).toBe('A reading is a number.');
  });
});

describe('a wish that waits to be sent', () => {
  const wish: Wish = {
    command: '00000000-0000-4000-8000-000000000001',
    person: 'p',
    alarm: 'a',
    path: 'step',
    body: { step: 'on-site' },
    saidAt: '2026-03-02T08:15:00.000Z',
    refused: null,
  };

  it('keeps its id and says when it was pressed', () => {
    expect(bodyOf(wish)).toEqual({ step: 'on-site', command: wish.command, saidAt: wish.saidAt });
    expect(bodyOf({ ...wish, path: 'accept', body: {} })).toEqual({ command: wish.command });
    expect(wishText(wish)).toBe('On site');
  });

  it('is read back as it was; what is broken or of another shape is left out', () => {
    expect(readWishes(JSON.stringify([wish, { ...wish, path: 'delete' }, null, 4]))).toEqual([wish]);
    for (const text of [null, '', '{', '{}', '"x"', '[{}]']) expect(readWishes(text)).toEqual([]);
  });

  it('is sent again only where that makes sense', () => {
    expect([0, 401, 429, 502, 503].map(isWorthAgain)).toEqual([true, true, true, true, true]);
    expect([400, 403, 404, 409, 422].map(isWorthAgain)).toEqual([false, false, false, false, false]);
  });
});

describe('the bar at the bottom', () => {
  const visit = (more: object): VisitAnswer =>
    ({
      alarm: { owner: 'Ada', active: false, latched: true },
      serverTime: '2026-03-02T08:00:00.000Z',
      findings: [],
      units: [{ id: 'unit-1', name: 'Room 12' }],
      works: [{ until: '2026-03-02T09:45:00.000Z' }],
      ...more,
    }) as unknown as VisitAnswer;
  const wish = (path: Wish['path'], body: Wish['body'] = {}): Wish => ({
    command: 'c',
    person: 'p',
    alarm: 'a',
    path,
    body,
    saidAt: '2026-03-02T07:00:00.000Z',
    refused: null,
  });
  const says = (more: object, stage: Parameters<typeof barOf>[1], waiting: Wish[] = []): string[] =>
    barOf(visit(more), stage, waiting, ['unit-1']).map((press) => press.says);

  it('offers the next thing first', () => {
    expect(says({}, 'free')).toEqual(['Accept']);
    expect(says({}, 'theirs')).toEqual(['Take over from Ada']);
    expect(says({}, 'mine')).toEqual(['On my way', 'On site']);
    expect(says({}, 'on-site')).toEqual(['Findings', 'I leave']);
    expect(says({ findings: [{ action: 'mended' }] }, 'on-site')).toEqual([
      'Close',
      'More findings',
      'I leave',
    ]);
    expect(says({}, 'over')).toEqual([]);
  });

  it('asks whether one is still there once the two hours of work are nearly over, or are', () => {
    const works = [{ until: '2026-03-02T08:20:00.000Z' }];
    expect(says({ works }, 'on-site')).toEqual(['Still here', 'Findings', 'I leave']);
    expect(says({ works: [] }, 'on-site')).toEqual(['Still here', 'Findings', 'I leave']);
  });

  it('goes on without a connection: what waits isn’t offered again, what comes after it is', () => {
    expect(says({}, 'free', [wish('accept')])).toEqual(['On my way', 'On site']);
    expect(says({}, 'free', [wish('accept'), wish('step', { step: 'on-site' })])).toEqual([
      'Findings',
      'I leave',
    ]);
    const refused = { ...wish('accept'), refused: 'It is at rest.' };
    expect(says({}, 'free', [refused])).toEqual(['Accept']);
  });
});
