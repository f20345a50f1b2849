import { describe, expect, it } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import { exactly } from '../../shared/base/span.ts';
import type { EventDraft, Measure } from '../../shared/inference/event.ts';
import { after, judgeKept, readBackFaults } from '../../shared/stagger/life.ts';
import { planStagger } from '../../shared/stagger/plan.ts';
import { pairsOf, sparedIn } from '../../shared/stagger/restarts.ts';
import { planAsk, planUnit } from '../fixtures/stagger.ts';

/** A proposal's life, and what restart sequences say of it (handbook 5.3, 5.4). */
const PLAN = planStagger(planAsk([planUnit('a', 210), planUnit('b', 210)], { hold: 'timers' }));
const SET = PLAN.units.find(({ isChange }) => isChange)!;
const KEPT_AS_IS = PLAN.units.find(({ isChange }) => !isChange)!;

/** A restart at `t` in which the unit that was set started so many seconds beside its plan, the other at its own. */
function restart(
  t: number,
  deviation: readonly [number, number],
  spacing: readonly [number, number] = [4, 5],
): EventDraft {
  const first = KEPT_AS_IS.id;
  const verdict = spacing[1] < 3 ? 'simultaneous' : spacing[0] >= 3 ? 'separate' : 'cannot-be-told';
  const measures: Record<string, Measure> = {
    [`${first}>${SET.id}.spacingSeconds`]: spacing,
    [`${first}>${SET.id}.verdict`]: verdict,
  };
  for (const [id, started] of [
    [first, 141],
    [SET.id, 141 + (spacing[0] + spacing[1]) / 2],
  ] as const) {
    measures[`${id}.outcome`] = 'started';
    measures[`${id}.setBy`] = 'wait';
    measures[`${id}.startedSeconds`] = [started, started];
    measures[`${id}.deviationSeconds`] = id === SET.id ? deviation : [0, 0];
  }
  return {
    id: `restart-${t}`,
    site: 'rowan',
    panel: 'panel-a',
    unit: null,
    space: null,
    kind: 'restart-sequence',
    cause: null,
    start: exactly(seconds(t)),
    end: exactly(seconds(t + 160)),
    certainty: 'certain',
    causeCertainty: null,
    pending: [],
    measures,
    candidates: [],
    evidence: [],
    members: [first, SET.id],
    discriminator: '',
  };
}
const judge = (...sequences: EventDraft[]) =>
  judgeKept(PLAN, { at: seconds(1000), units: [SET.id] }, sequences);

describe('whether what was set is kept', () => {
  it('waits for the first restart after it was set', () => {
    expect(judge().verdict).toBe('waiting');
    expect(judge(restart(900, [0, 0])).verdict).toBe('waiting');
    expect(judge({ ...restart(1100, [0, 0]), end: null }).verdict).toBe('waiting');
  });

  it('kept where it started within what timer and dial may be off by; not where it lies clear of that', () => {
    expect(judge(restart(1100, [-0.2, 0.3]))).toMatchObject({ verdict: 'kept', event: 'restart-1100' });
    expect(judge(restart(1100, [-9, -8])).verdict).toBe('not-kept');
    // polled: somewhere within ten seconds
    expect(judge(restart(1100, [-5, 5])).verdict).toBe('cannot-be-told');
  });

  it('not kept where those that were to be apart started together all the same', () => {
    expect(judge(restart(1100, [-0.2, 0.3], [0, 0.4]))).toMatchObject({
      verdict: 'not-kept',
      together: [[KEPT_AS_IS.id, SET.id]],
    });
    expect(judge(restart(1100, [-0.2, 0.3], [2, 4])).verdict).toBe('cannot-be-told');
  });

  it('a start that the call has set shows nothing', () => {
    const event = restart(1100, [60, 61]);
    const byCall = { ...event, measures: { ...event.measures, [`${SET.id}.setBy`]: 'call' } };
    expect(judge(byCall).verdict).toBe('waiting');
    expect(judge(byCall, restart(1200, [0, 0])).event).toBe('restart-1200');
  });
});

describe('the steps', () => {
  it('drafted, agreed, set; withdrawn until it is set', () => {
    expect(after('drafted', 'agree')).toBe('agreed');
    expect(after('agreed', 'set')).toBe('set');
    expect([after('drafted', 'withdraw'), after('agreed', 'withdraw')]).toEqual(['withdrawn', 'withdrawn']);
    expect([
      after('drafted', 'set'),
      after('set', 'withdraw'),
      after('withdrawn', 'agree'),
      after('agreed', 'agree'),
    ]).toEqual([null, null, null, null]);
  });

  it('each unit that was to be set is read back once, and one is set at least', () => {
    const read = (unit: string, offDelay: number | null) => ({ unit, offDelay, shows: '' });
    expect(readBackFaults(PLAN, [read(SET.id, 250)])).toEqual([]);
    expect(readBackFaults(PLAN, []).map(({ at }) => at)).toEqual([null]);
    expect(readBackFaults(PLAN, [read(SET.id, null)])).toEqual([
      { at: null, says: 'None was set: withdraw the proposal instead.' },
    ]);
    expect(readBackFaults(PLAN, [read(SET.id, 250), read(SET.id, 260)]).map(({ at }) => at)).toEqual([1]);
    expect(readBackFaults(PLAN, [read(SET.id, 250), read(KEPT_AS_IS.id, 260)]).map(({ at }) => at)).toEqual([
      1,
    ]);
  });
});

describe('what other waits would have made of a restart', () => {
  it('two that came together 0.2 s apart are spared by a shift of one; not where both shift alike', () => {
    const event = restart(1100, [0, 0], [0, 0.4]);
    expect(pairsOf(event)).toEqual([
      { first: KEPT_AS_IS.id, second: SET.id, spacing: [0, 0.4], verdict: 'simultaneous' },
    ]);
    expect(sparedIn([event], new Map([[SET.id, 4]]), 3)).toEqual({ together: 1, spared: 1 });
    expect(
      sparedIn(
        [event],
        new Map([
          [SET.id, 4],
          [KEPT_AS_IS.id, 4],
        ]),
        3,
      ),
    ).toEqual({ together: 1, spared: 0 });
  });
});
