import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { SECOND, seconds, type Instant } from '../../shared/base/instant.ts';
import { control, type Control } from '../../shared/control/control.ts';
import { controlSpans, powerUpDelay, type ControlSettings } from '../../shared/control/settings.ts';
import {
  NO_POWER_BELOW,
  type ControlChange,
  type ControlInputs,
  type ControlState,
} from '../../shared/control/state.ts';

/** What must hold for any settings and any inputs: handbook 2.2 said as invariants. */
const RUNS = 3000;

const settings: fc.Arbitrary<ControlSettings> = fc.record({
  offDelay: fc.integer({ min: 30, max: 300 }),
  offDelayFrom: fc.constantFrom('call', 'stop'),
  powerUpBase: fc.integer({ min: 0, max: 180 }),
  powerUpShare: fc.constantFrom(0, 0.1),
  lowPressureBypass: fc.integer({ min: 10, max: 180 }),
  lowPressureRetry: fc.constantFrom('closed-needed', 'bypass-again'),
  stopsCounted: fc.constantFrom('together', 'by-switch'),
  undervoltageTrip: fc.constantFrom(18, 18, null),
  undervoltageStartGrace: fc.constantFrom(0, 0, 2),
  undervoltageDelayFrom: fc.constantFrom('drop', 'recovery'),
  holdUp: fc.constantFrom(0, 0, 0.1),
});

interface Line {
  /** seconds after the line before; steps that hit delays exactly are wanted */
  readonly after: number;
  readonly inputs: ControlInputs;
}
const line: fc.Arbitrary<Line> = fc.record({
  after: fc.oneof(
    fc.constantFrom(0.05, 0.1, 1, 10, 30, 120, 210, 300),
    fc.double({ min: 0.001, max: 400, noNaN: true }),
  ),
  inputs: fc.record({
    controlVoltage: fc.constantFrom(26, 26, 26, 26, 18, 17.9, 9, 0),
    call: fc.constantFrom(true, true, true, false),
    highPressureOpen: fc.constantFrom(false, false, false, true),
    lowPressureOpen: fc.constantFrom(false, false, true),
  }),
});
const script = fc.array(line, { minLength: 1, maxLength: 40 });

interface Moment {
  readonly t: Instant;
  readonly inputs: ControlInputs;
  readonly state: ControlState;
  readonly output: boolean;
  readonly changes: readonly ControlChange[];
}

/** Every instant at which the control was stepped: each line's, and each deadline between. */
function play(model: Control, lines: readonly Line[], extra: readonly Instant[] = []): Moment[] {
  const moments: Moment[] = [];
  let state = model.settled(-10_000 * SECOND);
  let inputs: ControlInputs = {
    controlVoltage: 26,
    call: false,
    highPressureOpen: false,
    lowPressureOpen: false,
  };
  const take = (t: Instant): void => {
    const step = model.step(state, inputs, t);
    state = step.state;
    moments.push({ t, inputs, state, output: step.output, changes: step.changes });
  };
  let t = 0;
  const advance = (until: Instant): void => {
    const stops = extra.filter((at) => at > t && at < until);
    for (;;) {
      const due = model.deadline(state);
      const next = Math.min(due ?? Infinity, stops[0] ?? Infinity);
      if (next >= until) return;
      if (next === stops[0]) stops.shift();
      take(next);
    }
  };
  for (const each of lines) {
    const at = t + Math.max(1, seconds(each.after));
    advance(at);
    t = at;
    inputs = each.inputs;
    take(t);
  }
  advance(t + 2000 * SECOND);
  return moments;
}

const edges = (moments: readonly Moment[]): string[] => {
  const found: string[] = [];
  let output = false;
  for (const moment of moments) {
    if (moment.output !== output) found.push(`${moment.t} ${moment.output}`);
    output = moment.output;
  }
  return found;
};
const changesOf = (moments: readonly Moment[]): ControlChange[] =>
  moments.flatMap((moment) => [...moment.changes]);
const powered = (inputs: ControlInputs): boolean => inputs.controlVoltage >= NO_POWER_BELOW;

const check = (rule: (model: Control, moments: readonly Moment[]) => void, runs = RUNS): void =>
  fc.assert(
    fc.property(settings, script, (picked, lines) => {
      const model = control(picked);
      rule(model, play(model, lines));
    }),
    { numRuns: runs },
  );

describe('a protection control, whatever it is set to and whatever it sees', () => {
  it('never starts within the off-cycle delay of a stop, nor within the power-up delay of a power return', () => {
    check((model, moments) => {
      let free = -Infinity;
      for (const change of changesOf(moments)) {
        if (change.reason.code === 'power-returned') free = change.at + seconds(powerUpDelay(model.settings));
        else if (change.kind === 'stopped' && change.reason.code !== 'power-lost')
          free = change.at + controlSpans(model.settings).offDelay;
        const heldUp = change.reason.code === 'held-up';
        if (change.kind === 'started' && !heldUp) expect(change.at).toBeGreaterThanOrEqual(free);
      }
    });
  });

  it('never runs without power, without a call, or on an open high-pressure switch', () => {
    check((_model, moments) => {
      for (const { output, inputs } of moments)
        if (output) expect(powered(inputs) && inputs.call && !inputs.highPressureOpen).toBe(true);
    });
  });

  it('never runs longer than the bypass on an open low-pressure switch', () => {
    check((model, moments) => {
      const bypass = controlSpans(model.settings).bypass;
      let since: Instant | null = null;
      for (const { t, output, inputs } of moments) {
        if (!output || !inputs.lowPressureOpen) since = null;
        else since ??= t;
        if (since !== null && model.settings.holdUp === 0) expect(t - since).toBeLessThan(bypass);
      }
    });
  });

  it('never runs below its undervoltage trip beyond the start grace', () => {
    check(({ settings: picked }, moments) => {
      for (const { t, output, inputs, state } of moments)
        if (output && picked.undervoltageTrip !== null && inputs.controlVoltage < picked.undervoltageTrip)
          expect(t).toBeLessThan(state.startedAt! + seconds(picked.undervoltageStartGrace));
    });
  });

  it('never retries twice in one call where stops are counted together, and never three times else', () => {
    check((model, moments) => {
      const most = model.settings.stopsCounted === 'together' ? 1 : 2;
      let retries = 0;
      for (const { inputs, changes } of moments) {
        for (const { kind, reason } of changes)
          if (kind === 'started' && reason.code === 'wait-over' && reason.wait === 'soft-lockout') retries++;
        if (!inputs.call || !powered(inputs)) retries = 0;
        expect(retries).toBeLessThanOrEqual(most);
      }
    });
  });

  it('leaves a hard lockout only by a broken call or broken power', () => {
    check((_model, moments) => {
      let latched = false;
      for (const { inputs, state } of moments) {
        if (latched && inputs.call && powered(inputs) && state.awaySince === null)
          expect(state.phase).toBe('hard-lockout');
        latched = state.phase === 'hard-lockout' && inputs.call && powered(inputs);
      }
    });
  });

  it('changes nothing when time is cut finer', () => {
    const cuts = fc.array(fc.integer({ min: 1, max: 5000 * SECOND }), { maxLength: 60 });
    fc.assert(
      fc.property(settings, script, cuts, (picked, lines, at) => {
        const model = control(picked);
        const whole = play(model, lines);
        const cut = play(
          model,
          lines,
          [...new Set(at)].sort((a, b) => a - b),
        );
        expect(edges(cut)).toEqual(edges(whole));
        expect(changesOf(cut)).toEqual(changesOf(whole));
        expect(cut.at(-1)?.state).toEqual(whole.at(-1)?.state);
      }),
      { numRuns: RUNS },
    );
  });

  it('changes nothing when it is stepped at its lines only: deadlines passed happen at their own time', () => {
    fc.assert(
      fc.property(settings, script, (picked, lines) => {
        const model = control(picked);
        const changes: ControlChange[] = [];
        let state = model.settled(-10_000 * SECOND);
        let t = 0;
        for (const each of lines) {
          t += Math.max(1, seconds(each.after));
          const step = model.step(state, each.inputs, t);
          state = step.state;
          changes.push(...step.changes);
        }
        expect(changes).toEqual(changesOf(play(model, lines)).filter(({ at }) => at <= t));
      }),
      { numRuns: RUNS },
    );
  });

  it('keeps a state that is plain JSON, and the very same object where nothing happens', () => {
    check((model, moments) => {
      const last = moments.at(-1)!;
      expect(JSON.parse(JSON.stringify(last.state))).toEqual(last.state);
      expect(model.step(last.state, last.inputs, last.t).state).toBe(last.state);
    }, 1000);
  });

  it('gives its changes in time order, and each start and stop in turn', () => {
    check((_model, moments) => {
      const found = changesOf(moments);
      const turns = found.filter(({ kind }) => kind === 'started' || kind === 'stopped');
      for (let i = 1; i < found.length; i++) expect(found[i]!.at).toBeGreaterThanOrEqual(found[i - 1]!.at);
      turns.forEach(({ kind }, i) => expect(kind).toBe(i % 2 === 0 ? 'started' : 'stopped'));
    });
  });
});
