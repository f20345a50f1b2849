import { setTimeout } from 'node:timers/promises';
import { SECOND, type Instant } from '../../shared/base/instant.ts';
import { building } from '../../shared/building/building.ts';
import { happeningEdges } from '../../shared/building/happenings.ts';
import {
  DeliveryQueue,
  MessageBatches,
  messageOf,
  type GatewayMessage,
} from '../../shared/building/messages.ts';
import type { ScenarioBuilding } from '../../shared/building/plan.ts';
import { buildingsAt } from '../../shared/building/scenarios/list.ts';
import type { Entry } from '../../shared/building/truth.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import { GatewayFleet } from './gateway-fleet.ts';
import type { SimulateArguments } from './simulate-arguments.ts';

/** Publishes a scenario; resolves when all of it is acknowledged, or when it was told to stop. */
export interface SimulateReport {
  readonly messages: number;
  readonly samples: number;
}

/** from this speed on, several entries go in one message */
const BATCH_FROM = 20;
const STRIDE = 60 * SECOND;
const TICK_MILLISECONDS = 100;

export async function simulate(
  asked: SimulateArguments,
  now: () => Instant,
  stop: AbortSignal,
  say: (line: string) => void,
): Promise<SimulateReport> {
  const fleet = new GatewayFleet({
    brokerUrl: asked.brokerUrl,
    name: 'scenario',
    capacity: 400,
    inFlight: 100,
    onConnection: (connected, why) =>
      say(connected ? 'connected again' : `no broker at ${asked.brokerUrl}: ${why}; trying again`),
  });
  const lines = buildingsAt(asked.scenario, asked.start).map((each) => new BuildingLine(each, asked));
  const report = { messages: 0, samples: 0 };
  const began = now();
  const end = asked.start + asked.seconds * SECOND;
  for (let through = asked.start; through < end && !stop.aborted;) {
    const due = asked.start + (now() - began) * asked.speed;
    through = Math.min(end, asked.speed === Infinity ? through + STRIDE : due);
    for (const line of lines) await sendAll(fleet, line, line.through(through, through === end), report);
    if (asked.speed !== Infinity)
      await setTimeout(TICK_MILLISECONDS, undefined, { signal: stop }).catch(() => undefined);
  }
  const closed = new Promise<void>((resolve) =>
    stop.addEventListener('abort', () => resolve(), { once: true }),
  );
  await Promise.race([fleet.drained(), closed]);
  await fleet.close();
  return report;
}

async function sendAll(
  fleet: GatewayFleet,
  { site }: BuildingLine,
  messages: readonly GatewayMessage[],
  report: { messages: number; samples: number },
): Promise<void> {
  for (const message of messages) {
    await fleet.send(site, message);
    report.messages++;
    report.samples += message.samples;
  }
}

/** One building of the scenario, and its messages as time goes on. */
class BuildingLine {
  readonly site: string;
  readonly #root: string;
  readonly #advance: (until: Instant, entries: Entry[]) => void;
  readonly #queue = new DeliveryQueue();
  readonly #batches: MessageBatches | null;

  constructor({ site, document, plan, happenings }: ScenarioBuilding, asked: SimulateArguments) {
    this.site = site + asked.suffix;
    this.#root = asked.root;
    const parsed = parseConfiguration(this.site, document);
    if (!parsed.ok) throw new Error(`${site}: ${JSON.stringify(parsed.faults)}`);
    const model = building(parsed.site, plan);
    const state = model.begin(asked.start);
    const edges = happeningEdges(happenings, asked.start);
    this.#advance = (until, entries) =>
      model.advance(state, until, edges, { entry: (entry) => entries.push(entry), truth: () => undefined });
    const inBatches = asked.speed >= BATCH_FROM;
    this.#batches = inBatches ? new MessageBatches(asked.root, parsed.site, STRIDE / SECOND) : null;
  }

  through(until: Instant, isLast: boolean): GatewayMessage[] {
    const entries: Entry[] = [];
    this.#advance(until, entries);
    const delivered = this.#queue.take(entries, isLast ? Infinity : until);
    const batches = this.#batches;
    if (!batches) return delivered.map((entry) => messageOf(this.#root, this.site, entry));
    const messages = delivered.flatMap((entry) => batches.add(entry));
    return isLast ? [...messages, ...batches.flush()] : messages;
  }
}
