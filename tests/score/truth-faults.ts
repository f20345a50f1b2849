import { SECOND, seconds, type Instant } from '../../shared/base/instant.ts';
import { stretches, valueAt } from './trace.ts';
import { event, leaning, type TrueEvent } from './true-event.ts';
import { isRefusal, isSameCall, lockoutLeaning, outlastsRetry, type Facts } from './unit-facts.ts';

export const faultsOf = (facts: Facts): TrueEvent[] => [...conductor(facts), ...alarmFaults(facts)];

/** the widest that a span between two contacts may be on change; verdicts this near a limit may fall either way, s */
const NEAR = 0.5;

/** Output against current, for more than 2 s (rule 9). */
function conductor({ unit: { trace } }: Facts): TrueEvent[] {
  const found: TrueEvent[] = [];
  const instants = [...new Set([...trace.output.at, ...trace.current.at])].sort((a, b) => a - b);
  instants.forEach((from, i) => {
    const to = instants[i + 1] ?? Infinity;
    const output = valueAt(trace.output, from);
    const current = valueAt(trace.current, from) > 0 ? 1 : 0;
    if (output === current || to - from <= seconds(2)) return;
    const stuck = current === 1;
    const cause = stuck ? null : trace.output.at.includes(from) ? 'at-start' : 'in-run';
    found.push(
      event({
        kind: stuck ? 'stuck-contactor' : 'failed-start',
        cause,
        start: from,
        end: to === Infinity ? null : to,
        needed: to - from > seconds(2 + NEAR),
        leansOn: [
          { signal: 'current', from, to: from + (to - from) / 2 },
          { signal: 'output', from, to: from + (to - from) / 2 },
        ],
      }),
    );
  });
  return found;
}

function alarmFaults(facts: Facts): TrueEvent[] {
  const { changes, trace } = facts.unit;
  const moves = trace.alarm.at.slice(1);
  const next = (at: Instant): Instant | null => moves.find((move) => move > at) ?? null;
  if (facts.alarmInverted) return invertedFaults(facts);
  const found: TrueEvent[] = [];
  const unneeded: Instant[] = [];
  let standing = -Infinity;
  for (const latched of changes.filter(({ kind }) => kind === 'latched')) {
    if (valueAt(trace.alarm, latched.at) === 1 || latched.at < standing) continue;
    const refused = changes.some((one) => isRefusal(one) && isSameCall(facts, one.at, latched.at));
    const needed = outlastsRetry(facts, latched.at) && !refused && !isRefusal(latched);
    const orFrom = unneeded.filter((at) => next(at) === next(latched.at));
    if (needed) standing = next(latched.at) ?? Infinity;
    else unneeded.push(latched.at);
    found.push(
      event({
        kind: 'alarm-circuit-fault',
        cause: 'silent',
        start: latched.at,
        end: next(latched.at),
        needed,
        orFrom,
        leansOn: lockoutLeaning(facts, latched),
      }),
    );
  }
  for (const stray of stretches(trace.alarm, (value) => value === 1)) {
    const latched = changes.some(
      ({ kind, at }) => kind === 'latched' && at <= stray.from && stray.from - at < SECOND,
    );
    const powerless = valueAt(trace.volts, stray.from) < 5;
    if (latched || powerless) continue;
    found.push(
      event({
        kind: 'alarm-circuit-fault',
        cause: 'unexplained',
        start: stray.from,
        end: stray.to === Infinity ? null : stray.to,
        leansOn: leaning('alarm', stray),
        needed:
          valueAt(trace.output, stray.from) === 1 && valueAt(trace.output, stray.from + 2 * SECOND) === 1,
      }),
    );
  }
  return found;
}

/** An inverted contact is asserted while all is well: unexplained then, and whatever is said of its moves is its fault. */
function invertedFaults({ unit: { trace } }: Facts): TrueEvent[] {
  return trace.alarm.at.map((at, i) =>
    event({
      kind: 'alarm-circuit-fault',
      cause: null,
      start: at,
      end: trace.alarm.at[i + 1] ?? null,
      needed: false,
    }),
  );
}
