import { describe, expect, test } from 'vitest';
import { inSeconds, seconds, type Instant } from '../../shared/base/instant.ts';
import { exactly } from '../../shared/base/span.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import {
  isGrowth,
  isSaidAlike,
  saidOf,
  type RevisionWhy,
  type Said,
} from '../../shared/inference/revision.ts';
import { draftAbout } from '../../shared/inference/subject-draft.ts';
import { revisionSentence, whyText } from '../../shared/wire/revision-sentences.ts';

const event: EventDraft = {
  ...draftAbout(
    { kind: 'unit', site: 'rowan', device: 'unit-1' },
    {
      kind: 'soft-lockout',
      cause: 'high-pressure',
      start: exactly(seconds(500)),
      end: exactly(seconds(710)),
      certainty: 'certain',
      causeCertainty: 'certain',
    },
  ),
  unit: 'unit-1',
};
const said = (more: Partial<Said>): Said => ({ ...saidOf(event), ...more });
const words = {
  clock: (at: Instant) => String(inSeconds(at)),
  day: () => 'Tue 3 Mar',
  nameOf: (device: string) => (device === 'unit-1' ? 'Room 1' : device),
};
const late: RevisionWhy = {
  kind: 'late-data',
  gateway: 'east',
  device: 'unit-1',
  signal: 'high-pressure',
  t: seconds(500),
  learnedAt: seconds(500 + 5 * 3600),
};
const told = (was: Said, now: Said, why: RevisionWhy = late) =>
  revisionSentence(event, { said: was, why }, now, words);

describe('what an event said before, in sentences', () => {
  test('a cause that late data told', () => {
    const was = said({ cause: 'pressure', causeCertainty: 'possible' });
    expect(told(was, said({}))).toEqual({
      said: 'Soft lockout, high or low pressure, can’t tell which; 500 to 710',
      changes: ['its cause: high pressure, where it was high or low pressure, can’t tell which'],
      why: 'late data of gateway east (Room 1’s high-pressure switch of Tue 3 Mar, 500), learned 5 h late',
    });
  });

  test('a start and an end that moved, and a certainty', () => {
    const was = said({
      start: { earliest: seconds(480), latest: seconds(520) },
      end: null,
      certainty: 'probable',
    });
    expect(told(was, said({})).changes).toEqual([
      'its start moved from 480–520 to 500',
      'it ended at 710',
      'certain, where it was probable',
    ]);
    expect(told(said({}), said({ end: null })).changes).toEqual(['it isn’t over, where its end was 710']);
  });

  test('withdrawn, and standing again', () => {
    expect(told(said({}), said({ withdrawn: true })).changes).toEqual(['it was withdrawn']);
    expect(told(said({ withdrawn: true }), said({}))).toMatchObject({
      said: 'that it hadn’t happened',
      changes: ['it stands again'],
    });
  });

  test('each reason has its words', () => {
    expect(whyText({ kind: 'configuration', from: null }, words)).toBe(
      'the site’s configuration was changed for all time',
    );
    expect(whyText({ kind: 'configuration', from: seconds(9) }, words)).toBe(
      'the site’s configuration was changed from Tue 3 Mar, 9 on',
    );
    expect(whyText({ kind: 'rules' }, words)).toBe('the program’s own rules were changed');
    expect(whyText({ kind: 'in-order' }, words)).toBe('what came next showed it');
    const life: RevisionWhy = { ...late, device: null, signal: null };
    expect(whyText(life, words)).toBe('late data of gateway east (of Tue 3 Mar, 500), learned 5 h late');
    expect(whyText({ ...life, gateway: null, t: null, learnedAt: null }, words)).toBe('late data');
  });
});

describe('an event that only grew', () => {
  test.each<[string, Said, Said, boolean]>([
    ['it ended', said({ end: null, pending: ['end'] }), said({}), true],
    ['its cause came to be known', said({ cause: 'unknown', pending: ['cause'] }), said({}), true],
    ['it became surer', said({ certainty: 'probable', pending: ['certainty'] }), said({}), true],
    ['its cause became another', said({ cause: 'low-pressure' }), said({}), false],
    ['it became less sure', said({}), said({ certainty: 'probable' }), false],
    ['its end moved', said({ end: exactly(seconds(700)) }), said({}), false],
    ['it was withdrawn', said({}), said({ withdrawn: true }), false],
  ])('%s', (_, was, now, growth) => {
    expect(isGrowth(was, now)).toBe(growth);
    expect(isSaidAlike(was, now)).toBe(false);
    expect(isSaidAlike(now, { ...now, start: { ...now.start } })).toBe(true);
  });
});
