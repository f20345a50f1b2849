import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { parseInstant } from '../../shared/base/instant.ts';
import { exactly } from '../../shared/base/span.ts';
import { EVENT_CAUSES, type EventKind } from '../../shared/inference/event.ts';
import { cutTo, gsmLength, inGsm } from '../../shared/wire/gsm-7.ts';
import type { MessageReason } from '../../shared/people/telling.ts';
import type { NoticeFacts } from '../../shared/wire/notice-facts.ts';
import { mailText } from '../../shared/wire/notice-text.ts';
import { LONGEST_LINK, shortNotice } from '../../shared/wire/short-notice.ts';

const LOCKOUT: NoticeFacts = {
  site: { id: 'pine-ridge', name: 'Pine Ridge' },
  device: { id: 'u2', name: 'U2' },
  zone: 'America/New_York',
  event: {
    kind: 'hard-lockout',
    cause: 'high-pressure',
    certainty: 'certain',
    causeCertainty: 'probable',
    pending: [],
    start: exactly(parseInstant('2026-06-10T02:38:20-04:00')!),
    end: null,
    members: [],
    measures: {},
  },
  severity: 'major',
  urgency: {
    answer: 'can-wait',
    says: 'Can wait until 07:00: over the last 3 h the two units’ run fractions add up to 0.55, so one can carry it.',
    heldUntil: null,
  },
  cooling: ['U1 is cooling.'],
  others: ['U1'],
  repaired: [],
  explains: [],
};
const LINK = 'https://holdoff.example.org/a/3f-k9PqZ2mXw81LbNcd';

describe('the short form', () => {
  // issue 3 of 6, section 6, gives this one as the example
  test('says what it should within 160 places', () => {
    expect(shortNotice(LOCKOUT, 'page', LINK)).toBe(
      `Pine Ridge U2 hard lockout 02:38, high press. U1 cooling. Can wait to 07:00. Accept: ${LINK}`,
    );
  });

  test('an urgent one gives the times, without a sign that the alphabet lacks', () => {
    const urgency = {
      answer: 'go-now',
      says: 'Go now: 35 °C between 03:20 and 03:40.',
      heldUntil: null,
    } as const;
    const text = shortNotice({ ...LOCKOUT, urgency }, 'page', LINK);
    expect(text).toContain('Go now: 35 C between 03:20 and 03:40.');
  });

  test('what only tells of an end has nothing to accept', () => {
    expect(shortNotice(LOCKOUT, 'cleared', LINK)).toContain('Cleared, still yours until closed.');
    expect(shortNotice(LOCKOUT, 'cleared', LINK)).not.toContain('Accept');
  });

  const REASONS: MessageReason[] = [
    ...(['page', 'again', 'worse', 'cleared', 'taken', 'asked-next-step'] as const),
    ...(['asked-alone', 'exhausted', 'alone-on-site', 'test'] as const),
  ];
  const name = fc.oneof(
    fc.string({ maxLength: 200, unit: 'grapheme' }),
    fc.constantFrom(
      'W'.repeat(200),
      '[]{}~^\\|€'.repeat(22),
      '第七机房'.repeat(50),
      'Zürich – Höhe\r\nBcc: x',
      '',
    ),
  );
  const slug = fc.stringMatching(/^[a-z0-9][a-z0-9-]{0,62}$/);
  const named = fc.record({ id: slug, name });

  test('with the longest names: 160 places, link whole, site, unit and what within the first 40', () => {
    fc.assert(
      fc.property(
        fc.record({
          site: named,
          device: fc.option(named, { nil: null }),
          others: fc.array(name, { maxLength: 5 }),
        }),
        fc.constantFrom(...(Object.keys(EVENT_CAUSES) as EventKind[])),
        fc.constantFrom(...REASONS),
        fc.integer({ min: 20, max: LONGEST_LINK }),
        fc.string({ maxLength: 200 }),
        (names, kind, reason, linkLength, why) => {
          const link = 'https://h.example/a/'.padEnd(linkLength, 'x');
          const causes: readonly string[] = EVENT_CAUSES[kind];
          for (const cause of [null, ...causes]) {
            const event = { ...LOCKOUT.event, kind, cause } as NoticeFacts['event'];
            const urgency = { ...LOCKOUT.urgency, says: `Can wait until 07:00: ${why}.` };
            const text = shortNotice({ ...LOCKOUT, ...names, event, urgency }, reason, link);
            expect(gsmLength(text)).toBeLessThanOrEqual(160);
            expect(text.endsWith(link)).toBe(true);
            expect(text).not.toMatch(/[\r\n]/);
            // the head: its last word is what happened, and it is over before the 41st place
            const what = shortWord(kind, cause);
            expect(gsmLength(text.slice(0, text.indexOf(what) + what.length))).toBeLessThanOrEqual(40);
            expect(text.indexOf(what)).toBeGreaterThan(0);
          }
        },
      ),
      { numRuns: 200 },
    );
  });

  /** what stands between the names and the rest for names of one letter */
  function shortWord(kind: EventKind, cause: string | null): string {
    const event = { ...LOCKOUT.event, kind, cause } as NoticeFacts['event'];
    const plain = { ...LOCKOUT, site: { id: 's', name: 'S' }, device: { id: 'd', name: 'D' }, event };
    return /^S D (.*?) (02:38|https)/.exec(shortNotice(plain, 'page', 'https://h.example/a/x'))![1]!;
  }
});

describe('the alphabet of short messages', () => {
  test.each([
    ['Zürich', 'Zürich'],
    ['Łódź', '?odz'],
    ['Côte d’Azur', "Cote d'Azur"],
    ['35 °C – now', '35 C - now'],
    ['室', '?'],
  ])('%s is written %s', (text, written) => {
    expect(inGsm(text)).toBe(written);
  });

  // 3GPP TS 23.038: letters of the extension table take two places
  test('a bracket takes two places, a euro too', () => {
    expect([gsmLength('[a]'), gsmLength('€'), gsmLength('ł')]).toEqual([5, 2, null]);
    expect(cutTo('[[[[', 5)).toBe('[[.');
  });
});

describe('the e-mail', () => {
  const links = { accept: LINK, alarm: 'https://holdoff.example.org/alarms/1' };
  const mail = mailText(LOCKOUT, 'page', links);

  test('begins with whether to go now', () => {
    expect(mail.text.split('\n')[0]).toBe(LOCKOUT.urgency.says);
    expect(mail.subject).toBe('Pine Ridge, U2: Hard lockout, probably high pressure – can wait');
  });

  test('says what was done about the unit of late, where something was', () => {
    const repaired = ['Closed at 07:02, within the day before by Ada Quist: fan capacitor replaced.'];
    expect(mailText({ ...LOCKOUT, repaired }, 'page', links).text).toContain(`\n\n${repaired[0]}\n\n`);
  });

  test('says what, since when, how sure, what it means, what to look at, the cautions and the link, in that order', () => {
    const order = [
      'Can wait until 07:00',
      'Pine Ridge, U2: Hard lockout, probably high pressure.',
      'Latched 02:38, stays off until the call or the power is broken.',
      'America/New_York',
      'How sure: certain',
      'How sure of the cause: probable',
      'U1 is cooling.',
      '1. Before breaking power or call, write down what the control itself shows',
      '2. Outdoor coil blocked or dirty',
      'starts by itself, without warning',
      'Never jumper a pressure switch',
      `Accept it: ${LINK}`,
    ].map((words) => mail.text.indexOf(words));
    expect(order.every((place) => place >= 0)).toBe(true);
    expect(order).toEqual(order.toSorted((a, b) => a - b));
  });

  test('what only tells of an end asks nobody to go', () => {
    const cleared = mailText(LOCKOUT, 'cleared', links);
    expect(cleared.text.split('\n')[0]).toBe('It has cleared; it is still yours until it is closed.');
    expect(cleared.text).not.toContain('Cautions');
    expect(cleared.subject).toBe('Cleared: Pine Ridge, U2: Hard lockout, probably high pressure');
  });

  test('a name can’t begin another header', () => {
    const site = { id: 'x', name: 'Site\r\nBcc: all@example.org' };
    expect(mailText({ ...LOCKOUT, site }, 'page', links).subject).not.toMatch(/[\r\n]/);
  });
});
