import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { parseInstant, SECOND } from '../../shared/base/instant.ts';
import {
  afterClockStep,
  climbAfter,
  dueOf,
  firstClimb,
  planOf,
  type Climb,
  type Policy,
} from '../../shared/people/escalation.ts';
import { askAt, ownershipDue, type Ownership } from '../../shared/people/ownership.ts';
import { laterMessage, type Told } from '../../shared/people/telling.ts';

const MINUTE = 60 * SECOND;
const person = (id: string) => ({ kind: 'person' as const, id });
/** handbook 7: 5/5/10 min, repeat 1 */
const POLICY: Policy = {
  steps: [
    { targets: [person('ann')], waitSeconds: 300 },
    { targets: [person('ben')], waitSeconds: 300 },
    { targets: [person('cid')], waitSeconds: 600 },
  ],
  repeats: 1,
  fallback: [person('manager')],
};

/** looks at the policy at these minutes; says what was done, and when */
function walk(policy: Policy, looks: readonly number[]): string[] {
  let climb: Climb = firstClimb(0);
  const done: string[] = [];
  for (const minute of looks) {
    const due = dueOf(policy, climb, minute * MINUTE);
    if (due.kind === 'not-yet') continue;
    done.push(due.kind === 'page' ? `${minute}: ${due.targets[0]!.id}` : `${minute}: exhausted`);
    if (due.kind === 'exhausted') break;
    climb = due.then;
  }
  return done;
}

const everyMinute = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, n) => from + n);

describe('escalation', () => {
  // handbook 7 and issue: 5/5/10 min, repeat 1, no answer: pages at 0, 5, 10, 20, 25, 30 min, then exhausted
  test('5/5/10 min, repeated once: pages at 0, 5, 10, 20, 25, 30 min, then exhausted', () => {
    expect(planOf(POLICY)).toEqual({ pages: [0, 5, 10, 20, 25, 30].map((m) => m * 60), exhausted: 2400 });
    expect(walk(POLICY, everyMinute(0, 60))).toEqual([
      '0: ann',
      '5: ben',
      '10: cid',
      '20: ann',
      '25: ben',
      '30: cid',
      '40: exhausted',
    ]);
  });

  test('what is not due says when it will be', () => {
    expect(dueOf(POLICY, { next: 1, dueAt: 5 * MINUTE }, 4 * MINUTE)).toEqual({
      kind: 'not-yet',
      at: 5 * MINUTE,
    });
  });

  test('down for seven minutes: only the step that is now due, and those after it have their whole time', () => {
    expect(walk(POLICY, [0, 1, 2, ...everyMinute(12, 60)])).toEqual([
      '0: ann',
      '12: cid',
      '22: ann',
      '27: ben',
      '32: cid',
      '42: exhausted',
    ]);
  });

  test('down for an hour: one page, not five, and nobody is said not to have answered who wasn’t asked', () => {
    expect(walk(POLICY, [0, 3, ...everyMinute(63, 120)])).toEqual(['0: ann', '63: cid', '73: exhausted']);
  });

  test('down while only the end was left: exhausted at once', () => {
    expect(walk(POLICY, [...everyMinute(0, 31), 91])).toEqual([
      ...['0: ann', '5: ben', '10: cid', '20: ann', '25: ben', '30: cid'],
      '91: exhausted',
    ]);
  });

  test('a look that comes a little late moves nothing that follows', () => {
    const due = dueOf(POLICY, firstClimb(0), 2 * SECOND);
    expect(due.kind === 'page' && due.then).toEqual({ next: 1, dueAt: 5 * MINUTE });
  });

  test('the owner doesn’t answer: it begins again behind whoever was asked last', () => {
    expect(climbAfter(POLICY, 1, MINUTE)).toEqual({ next: 2, dueAt: MINUTE });
    expect(climbAfter(POLICY, 5, MINUTE)).toEqual({ next: 0, dueAt: MINUTE });
  });

  test('the clock set back by an hour: the time that was left stays as it was', () => {
    const [setAt, now] = [parseInstant('2026-06-01T04:00:00Z')!, parseInstant('2026-06-01T03:01:00Z')!];
    expect(afterClockStep(setAt + 5 * MINUTE, setAt, now)).toBe(now + 5 * MINUTE);
    expect(afterClockStep(setAt + 5 * MINUTE, setAt, setAt + MINUTE)).toBe(setAt + 5 * MINUTE);
  });
});

const policies: fc.Arbitrary<Policy> = fc.record({
  steps: fc.array(
    fc.record({
      targets: fc.constant([person('x')]),
      waitSeconds: fc.integer({ min: 60, max: 3600 }),
    }),
    { minLength: 1, maxLength: 5 },
  ),
  repeats: fc.nat(3),
  fallback: fc.constant([person('manager')]),
});

describe('whenever somebody looks', () => {
  test('pages only go forward, each look gives at most one, none comes early, and the end is told', () => {
    fc.assert(
      fc.property(
        policies,
        fc.array(fc.integer({ min: 1, max: 40_000 }), { maxLength: 60 }),
        (policy, gaps) => {
          const plan = planOf(policy);
          let [climb, now, last] = [firstClimb(0), 0, -1];
          for (const gap of [...gaps, ...Array.from({ length: 25 }, () => 40_000)]) {
            now += gap * SECOND;
            const due = dueOf(policy, climb, now);
            if (due.kind === 'not-yet') {
              expect(due.at).toBeGreaterThan(now);
              continue;
            }
            if (due.kind === 'exhausted') {
              expect(last).toBe(plan.pages.length - 1);
              return;
            }
            expect(due.page).toBeGreaterThan(last);
            expect(now).toBeGreaterThanOrEqual(plan.pages[due.page]! * SECOND);
            // whoever was paged has the whole wait, but for what the look itself came late
            expect(due.then.dueAt - now).toBeGreaterThan(
              (policy.steps[due.page % policy.steps.length]!.waitSeconds - 31) * SECOND,
            );
            [climb, last] = [due.then, due.page];
          }
          expect.unreachable('exhaustion is itself told');
        },
      ),
      { numRuns: 500 },
    );
  });
});

describe('ownership (handbook 7: accept, working alone)', () => {
  const owned: Ownership = { person: 'ann', place: 'accepted', since: 0, askedAt: null, needsBy: null };

  test.each([
    ['with nothing known, after 30 min', null, 30],
    ['needed in 40 min, after half of that', 40, 20],
    ['needed in three hours, after 30 min', 180, 30],
    ['needed already, at once', -5, 0],
  ])('no next step: %s', (_, needsBy, asked) => {
    expect(askAt({ ...owned, needsBy: needsBy === null ? null : needsBy * MINUTE })).toBe(asked * MINUTE);
  });

  test('asked and no answer in 5 min: the policy again', () => {
    expect(ownershipDue(owned, 30 * MINUTE)).toEqual({ kind: 'ask-owner', why: 'no-next-step' });
    const asked = { ...owned, askedAt: 30 * MINUTE };
    expect(ownershipDue(asked, 34 * MINUTE)).toEqual({ kind: 'not-yet', at: 35 * MINUTE });
    expect(ownershipDue(asked, 35 * MINUTE)).toEqual({ kind: 'policy-again' });
  });

  test('two hours on site without “left”: asked, then the next person is told', () => {
    const there = { ...owned, place: 'on-site' as const, needsBy: 10 * MINUTE };
    expect(ownershipDue(there, 119 * MINUTE)).toEqual({ kind: 'not-yet', at: 120 * MINUTE });
    expect(ownershipDue(there, 120 * MINUTE)).toEqual({ kind: 'ask-owner', why: 'alone-on-site' });
    expect(ownershipDue({ ...there, askedAt: 120 * MINUTE }, 125 * MINUTE)).toEqual({
      kind: 'tell-next',
      why: 'alone-on-site',
    });
  });
});

describe('what follows a notice (handbook 7: worse, cleared, taken by another)', () => {
  const now = { severity: 'major' as const, cleared: false, owner: null };
  const told: Told = now;

  test.each([
    ['nothing has changed', told, now, null],
    ['worse', told, { ...now, severity: 'critical' as const }, 'worse'],
    ['better is no reason', told, { ...now, severity: 'minor' as const }, null],
    ['cleared', told, { ...now, cleared: true }, 'cleared'],
    ['cleared is told once', { ...told, cleared: true }, { ...now, cleared: true }, null],
    ['taken by another', told, { ...now, owner: 'ben' }, 'taken'],
    ['taken by oneself', told, { ...now, owner: 'ann' }, null],
    ['taken is told once', { ...told, owner: 'ben' }, { ...now, owner: 'ben' }, null],
    [
      'who was told nothing isn’t told the rest',
      { ...told, severity: null },
      { ...now, cleared: true },
      null,
    ],
  ])('%s', (_, before, standing, message) => {
    expect(laterMessage('ann', before, standing)).toBe(message);
  });
});
