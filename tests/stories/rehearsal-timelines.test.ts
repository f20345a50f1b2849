import { describe, expect, it } from 'vitest';
import { changedFor, changedNow, edgeWords, QUIET_INPUTS, rehearse } from '../../shared/replay/rehearsal.ts';
import { readRehearsalLink, rehearsalLink } from '../../shared/replay/rehearsal-link.ts';
import { REFERENCE_SETTINGS } from '../../shared/control/settings.ts';
import { changeSentence, standingSentence } from '../../shared/wire/rehearsal-sentences.ts';
import { TIMELINES } from '../fixtures/control-timelines.ts';
import { rehearsalOf } from '../fixtures/rehearsed-timelines.ts';

/** The rehearsal's chart is the control's: each timeline of handbook 2.3, given as a rehearsal and read back from its link. */
describe('rehearsed, the timelines of handbook 2.3', () => {
  it.each(TIMELINES)('$name', ({ output, alarm, ...row }) => {
    const rehearsal = rehearsalOf(row);
    const shown = rehearse(rehearsal);
    expect(edgeWords(shown.lanes.output)).toEqual(output);
    expect(edgeWords(shown.lanes.alarm)).toEqual(alarm);
    const read = readRehearsalLink(rehearsalLink(rehearsal)!);
    expect(read.ok && rehearse(read.rehearsal)).toEqual(shown);
  });
});

describe('a rehearsal', () => {
  const quiet = { settings: REFERENCE_SETTINGS, opening: QUIET_INPUTS, steps: [], until: 0 };

  it('says what the control did, and why', () => {
    const { changes } = rehearse(rehearsalOf(TIMELINES[1]!));
    expect(changes.map(({ at, change }) => `${at / 1000} ${changeSentence(change)}`)).toEqual([
      '100 Output on: the compressor starts – the call came, and nothing stood against it.',
      '500 Output off: the compressor stops – the high-pressure switch opened (first stop in this call).',
      '500 Soft lockout: it retries when the off-cycle delay is over – the high-pressure switch opened (first stop in this call).',
      '710 Output on: the compressor starts – the wait of the soft lockout of 3:30 is over.',
      '800 Output off: the compressor stops – the high-pressure switch opened (second stop in this call).',
      '800 Hard lockout, alarm on – the high-pressure switch opened (second stop in this call).',
      '5000 The hard lockout is reset – the call was broken.',
    ]);
  });

  it('says what it waits for', () => {
    const stopped = { ...rehearsalOf(TIMELINES[0]!), until: 530_000 };
    expect(standingSentence(rehearse(stopped), 530_000)).toBe('Soft lockout – retries in 3:00.');
    expect(standingSentence(rehearse(quiet), 0)).toBe('Ready: it starts when the call comes.');
  });

  it('given something else goes on from there: what was to come of the same input is gone', () => {
    const early = { ...rehearsalOf(TIMELINES[1]!), until: 505_000 };
    const changed = changedNow(early, { highPressureOpen: false })!;
    expect(changed.steps.map(({ at }) => at / 1000)).toEqual([100, 500, 505, 5000]);
    expect(changedNow(changed, { call: false })!.steps.at(-1)).toEqual({
      at: 505_000,
      change: { highPressureOpen: false, call: false },
    });
  });

  it('a dip of 5 s ends by itself', () => {
    const running = {
      ...rehearsalOf(TIMELINES[5]!),
      until: 500_000,
      steps: [{ at: 100_000, change: { call: true } }],
    };
    const dip = { during: { controlVoltage: 17 }, after: { controlVoltage: 26 } };
    const dipped = { ...changedFor(running, 5000, dip)!, until: 2_000_000 };
    expect(edgeWords(rehearse(dipped).lanes.output)).toEqual(['on 100', 'off 500', 'on 710']);
  });

  it.each([
    ['', /newer version/],
    ['2_____0', /newer version/],
    ['1_od9999__0', /changed on its way/],
    ['1_xx3___0', /changed on its way/],
    ['1___5*c1-5*c0_0', /changed on its way/],
    ['1___5*c1v99_0', /changed on its way/],
    ['1___5*_0', /changed on its way/],
    ['1____zzzzzz', /changed on its way/],
    [`1_${'od240-'.repeat(2000)}___0`, /too long/],
  ])('a link like %s is refused, and says what to do', (text, says) => {
    const read = readRehearsalLink(text);
    expect(read.ok ? 'taken' : read.says).toMatch(says);
  });
});
