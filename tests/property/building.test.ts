import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { SECOND, type Instant } from '../../shared/base/instant.ts';
import type { BuildingState } from '../../shared/building/building-state.ts';
import { building, type Building } from '../../shared/building/building.ts';
import { happeningEdges } from '../../shared/building/happenings.ts';
import { MessageBatches, type GatewayMessage } from '../../shared/building/messages.ts';
import type { Happening, HappeningKind } from '../../shared/building/plan.ts';
import { school } from '../../shared/building/scenarios/school.ts';
import { shelter } from '../../shared/building/scenarios/shelter.ts';
import type { Entry, TruthFact } from '../../shared/building/truth.ts';
import type { Site } from '../../shared/telemetry/site.ts';
import { siteOf, START } from '../fixtures/building-run.ts';

/** The simulated building under any happenings, cut anywhere, written down and read back. */
const SPAN = 3600;

const unit = fc.constantFrom('unit-1', 'unit-2');
const what: fc.Arbitrary<HappeningKind> = fc.oneof(
  fc.constant({ kind: 'utility-away' as const, panels: ['panel-p'] }),
  fc.record({
    kind: fc.constant('utility-low' as const),
    panels: fc.constant(['panel-p']),
    share: fc.constantFrom(0.6, 0.8),
  }),
  fc.record({
    kind: fc.constantFrom('coil-blocked' as const, 'charge-lost' as const),
    unit,
    share: fc.constant(0.7),
  }),
  fc.record({
    kind: fc.constantFrom('breaker-open' as const, 'interlock-open' as const, 'contactor-welded' as const),
    unit,
  }),
  fc.record({
    kind: fc.constant('switch-open' as const),
    unit,
    which: fc.constantFrom('high' as const, 'low' as const),
  }),
  fc.record({
    kind: fc.constantFrom('uplink-lost' as const, 'gateway-down' as const),
    gateway: fc.constantFrom('module-1', 'air'),
  }),
);
const happenings: fc.Arbitrary<Happening[]> = fc.array(
  fc.record({
    at: fc.double({ min: 0, max: SPAN, noNaN: true }),
    seconds: fc.constantFrom(0.33, 5, 60, 600, 3600),
    what,
  }),
  { maxLength: 8 },
);

const each = shelter([]);
const site = siteOf(each);
const model = building(site, each.plan);
const begun = JSON.stringify(model.begin(START));
const fresh = (): BuildingState => JSON.parse(begun) as BuildingState;

interface Played {
  readonly entries: Entry[];
  readonly truth: TruthFact[];
  readonly state: BuildingState;
}

function play(list: readonly Happening[], cuts: readonly Instant[], throughJson: boolean): Played {
  const edges = happeningEdges(list, START);
  const record: Played = { entries: [], truth: [], state: fresh() };
  let state = record.state;
  for (const until of [...cuts, START + SPAN * SECOND]) {
    model.advance(state, until, edges, {
      entry: (entry) => record.entries.push(entry),
      truth: (fact) => record.truth.push(fact),
    });
    if (throughJson) state = JSON.parse(JSON.stringify(state)) as BuildingState;
  }
  return { ...record, state };
}

/** The same shelter wired to fewer gateways: to one alone, or temperatures and line voltage to the same. */
function wiredTo(gateways: Readonly<Record<string, string>>) {
  const text = JSON.stringify(each.document);
  const names = /"(module-1|module-2|power-monitor|air)"/g;
  const renamed = text.replace(names, (_, id: string) => `"${gateways[id] ?? id}"`);
  const document = JSON.parse(renamed) as { gateways: { id: string }[] };
  const known = new Map(document.gateways.map((gateway) => [gateway.id, gateway]));
  const other = siteOf({ ...each, document: { ...document, gateways: [...known.values()] } });
  const wired = building(other, each.plan);
  return { site: other, model: wired, begun: JSON.stringify(wired.begin(START)) };
}
const WIRINGS = [
  { site, model, begun },
  wiredTo({ 'module-1': 'one', 'module-2': 'one', 'power-monitor': 'one', air: 'one' }),
  wiredTo({ air: 'power-monitor' }),
];

function entriesOf(one: Building, from: string, list: readonly Happening[]): Entry[] {
  const entries: Entry[] = [];
  const known = list.filter(({ what: { kind } }) => kind !== 'uplink-lost' && kind !== 'gateway-down');
  one.advance(JSON.parse(from) as BuildingState, START + SPAN * SECOND, happeningEdges(known, START), {
    entry: (entry) => entries.push(entry),
    truth: () => undefined,
  });
  return entries;
}

/** An on-change point counts as known through the newest time its gateway has told: nothing older may follow. */
function checkLife(where: Site, messages: readonly GatewayMessage[]): void {
  const watched = new Set(
    [...where.panels, ...where.units].flatMap(({ points }) =>
      points.flatMap((point) => (point.reporting.mode === 'on-change' ? [point.device] : [])),
    ),
  );
  const lives = new Map<string, number>();
  for (const { gateway, topic, payload } of messages) {
    const parsed = JSON.parse(payload) as { t: number } | { t: number }[];
    const times = (Array.isArray(parsed) ? parsed : [parsed]).map(({ t }) => t);
    const before = lives.get(gateway) ?? 0;
    if (watched.has(topic.split('/')[2]!)) expect(Math.min(...times)).toBeGreaterThanOrEqual(before);
    lives.set(gateway, Math.max(before, ...times));
  }
}

describe('the simulated building', () => {
  it('tells the same however its run is cut, written down and read back', () => {
    const cuts = fc.array(fc.integer({ min: 0, max: SPAN * SECOND }), { maxLength: 12 });
    fc.assert(
      fc.property(happenings, cuts, (list, at) => {
        const whole = play(list, [], false);
        const sorted = at.sort((a, b) => a - b).map((offset) => START + offset);
        const cut = play(list, sorted, true);
        expect(cut.entries).toEqual(whole.entries);
        expect(cut.truth).toEqual(whole.truth);
        expect(cut.state).toEqual(whole.state);
      }),
      { numRuns: 150 },
    );
  });

  it('lets each gateway tell in time order, and runs no compressor without power', () => {
    fc.assert(
      fc.property(happenings, (list) => {
        const { entries, truth } = play(list, [], false);
        const newest = new Map<string, Instant>();
        for (const { gateway, t } of entries) {
          expect(t).toBeGreaterThanOrEqual(newest.get(gateway) ?? 0);
          newest.set(gateway, t);
        }
        let away = false;
        for (const fact of truth) {
          if (fact.kind === 'source') away = fact.source === 'none';
          if (fact.kind === 'runs' && fact.on) expect(away).toBe(false);
        }
      }),
      { numRuns: 150 },
    );
  });

  it('puts the same samples into few messages, and never shows life past a change that is still to be told', () => {
    const windows = fc.constantFrom(10, 60, 300, 3600);
    fc.assert(
      fc.property(happenings, windows, fc.constantFrom(...WIRINGS), (list, window, place) => {
        const entries = entriesOf(place.model, place.begun, list);
        const batches = new MessageBatches('holdoff', place.site, window);
        const messages = [...entries.flatMap((entry) => batches.add(entry)), ...batches.flush()];
        expect(told(messages)).toEqual(samplesOf(entries));
        checkLife(place.site, messages);
      }),
      { numRuns: 100 },
    );
  });

  it('gives a school other days for another seed', () => {
    const first = school([]);
    const other = school([], { ...first.plan, seed: 1 });
    const [a, b] = [first, other].map((one) => {
      const entries: Entry[] = [];
      const one_ = building(siteOf(one), one.plan);
      one_.advance(one_.begin(START), START + 600 * SECOND, [], {
        entry: (entry) => entries.push(entry),
        truth: () => undefined,
      });
      return JSON.stringify(entries);
    });
    expect(a).not.toBe(b);
  });
});

type Told = Map<string, number>;

function told(messages: readonly { topic: string; payload: string }[]): Told {
  const found: Told = new Map();
  for (const { topic, payload } of messages) {
    const [, , device, last] = topic.split('/');
    if (last === 'heartbeat') continue;
    const parsed = JSON.parse(payload) as { t: number; signals: { [signal: string]: number } }[];
    for (const { t, signals } of Array.isArray(parsed) ? parsed : [parsed])
      for (const [signal, value] of Object.entries(signals))
        found.set(`${device} ${signal} ${t * 1000}`, value);
  }
  return new Map([...found].sort());
}

function samplesOf(entries: readonly Entry[]): Told {
  const found: Told = new Map();
  for (const { device, gateway, t, signals } of entries)
    if (device !== gateway)
      for (const [signal, value] of Object.entries(signals)) found.set(`${device} ${signal} ${t}`, value);
  return new Map([...found].sort());
}
