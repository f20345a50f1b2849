import { SECOND, type Instant } from '../../shared/base/instant.ts';
import { building } from '../../shared/building/building.ts';
import { happeningEdges } from '../../shared/building/happenings.ts';
import { buildingsAt, SCENARIOS } from '../../shared/building/scenarios/list.ts';
import type { TruthFact } from '../../shared/building/truth.ts';
import type { ControlChange } from '../../shared/control/state.ts';
import type { Site } from '../../shared/telemetry/site.ts';
import { siteOf, START } from '../fixtures/building-run.ts';
import type { Heard } from './gateway-record.ts';
import type { SiteCase } from './site-case.ts';
import type { PlaceTruth, TrueUnit } from './site-truth.ts';
import { NO_CHANGES, record, stretches, type Stretch, type Trace, type TraceSignal } from './trace.ts';
import { HEALTHY_VOLTS, RUNNING_AMPS } from './unit-plant.ts';

/** A scenario of the simulated building as a labelled history: its gateways' messages, and what it says truly happened. */
export const SCENARIO_NAMES: readonly string[] = SCENARIOS.map(({ name }) => name);
/** the demonstration's own buildings live for a week; two days of it are enough */
const LONGEST = 2 * 86_400;

/** The histories of a scenario, by its place in the list from 1 on: one for each of its buildings. */
export function buildingCases(seed: number): SiteCase[] {
  const scenario = SCENARIOS[seed - 1]!;
  const length = Math.min(scenario.seconds, LONGEST);
  const to = START + length * SECOND;
  return buildingsAt(scenario, START).map((each) => {
    const site = siteOf(each);
    const rows: Heard[] = [];
    const facts: TruthFact[] = [];
    const model = building(site, each.plan);
    model.advance(model.begin(START), to, happeningEdges(each.happenings, START), {
      entry: ({ gateway, device, t, signals }) => {
        const told = Object.entries(signals).map(([signal, value]) => ({
          t,
          key: `${device}/${signal}`,
          value,
        }));
        rows.push(...told, { t, key: `${gateway}/life`, value: 1 });
      },
      truth: (fact) => facts.push(fact),
    });
    // a wire of the alarm contact is broken there: the building's truth doesn't tell of wires
    const unjudged = new Set([
      'high-temperature',
      ...(scenario.name === 'silent-alarm' ? ['alarm-circuit-fault'] : []),
    ]);
    return { seed, from: START, to, site, rows, places: placesOf(site, facts, to), jitter: 0, unjudged };
  });
}

/** Each panel with each of its rooms. */
function placesOf(site: Site, facts: readonly TruthFact[], to: Instant): PlaceTruth[] {
  const units = site.units.map((unit): TrueUnit => {
    const own = facts.filter(({ device }) => device === unit.id);
    const changes = own.flatMap((fact) => (fact.kind === 'control' ? [fact.change] : []));
    return { unit, changes, trace: traceOf(own, changes) };
  });
  return site.panels.flatMap((panel) => {
    const onPanel = units.filter(({ unit }) => unit.panel === panel.id);
    return onPanel.length === 0
      ? []
      : [{ units: onPanel, panel, space: null, outages: outagesOf(facts, panel.id), to }];
  });
}

function outagesOf(facts: readonly TruthFact[], panel: string): Stretch[] {
  const powered = { at: [] as Instant[], value: [] as number[] };
  for (const fact of facts)
    if (fact.kind === 'source' && fact.device === panel) {
      powered.at.push(fact.at);
      powered.value.push(fact.source === 'none' ? 0 : 1);
    }
  return stretches(powered, (value) => value === 0);
}

function traceOf(facts: readonly TruthFact[], changes: readonly ControlChange[]): Trace {
  const trace = NO_CHANGES();
  const began = (signal: TraceSignal, value: number) => record(trace, signal, START, value);
  const first = (kind: TruthFact['kind']): boolean | undefined => {
    const found = facts.find((fact) => fact.kind === kind);
    return found && 'on' in found ? !found.on : undefined;
  };
  const output = changes.find(({ kind }) => kind === 'started' || kind === 'stopped');
  began('volts', HEALTHY_VOLTS);
  for (const signal of ['call', 'want', 'seen-call'] as const) began(signal, +(first('call') ?? false));
  for (const signal of ['high', 'low', 'alarm'] as const) began(signal, 0);
  began('output', +(output?.kind === 'stopped'));
  began('current', first('runs') ? RUNNING_AMPS : 0);
  for (const fact of facts) note(trace, fact);
  return trace;
}

function note(trace: Trace, fact: TruthFact): void {
  const set = (signal: TraceSignal, value: number) => record(trace, signal, fact.at, value);
  switch (fact.kind) {
    case 'control':
      if (fact.change.kind === 'started') set('output', 1);
      if (fact.change.kind === 'stopped') set('output', 0);
      if (fact.change.kind === 'latched') set('alarm', 1);
      if (fact.change.kind === 'reset') set('alarm', 0);
      return;
    case 'call':
      for (const signal of ['call', 'want', 'seen-call'] as const) set(signal, +fact.on);
      return;
    case 'control-power':
      return set('volts', fact.on ? HEALTHY_VOLTS : 0);
    case 'runs':
      return set('current', fact.on ? RUNNING_AMPS : 0);
    case 'high-switch':
      return set('high', +fact.on);
    case 'low-switch':
      return set('low', +fact.on);
    default:
      return undefined;
  }
}
