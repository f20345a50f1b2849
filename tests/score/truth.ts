import { stretches } from './trace.ts';
import type { TrueEvent } from './true-event.ts';
import { faultsOf } from './truth-faults.ts';
import { startsOf } from './truth-starts.ts';
import { stopsOf } from './truth-stops.ts';
import type { Facts, TruthInput } from './unit-facts.ts';

/** Everything that truly happened to one unit, labelled as contract section 4 names it. */
export function truthOf(input: TruthInput): TrueEvent[] {
  const { trace } = input.unit;
  const facts: Facts = {
    ...input,
    runs: stretches(trace.output, (value) => value === 1),
    calls: stretches(trace.call, (value) => value === 1),
    outages: stretches(trace.volts, (value) => value < 5),
    protectionAt: (at) => input.recorded.findLast(({ from }) => from <= at)!.protection,
  };
  return [...stopsOf(facts), ...startsOf(facts), ...faultsOf(facts)].sort((a, b) => a.start - b.start);
}
