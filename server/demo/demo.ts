import { setImmediate, setTimeout } from 'node:timers/promises';
import { digest } from '../../shared/base/digest.ts';
import { SECOND, type Instant } from '../../shared/base/instant.ts';
import type { BuildingState } from '../../shared/building/building-state.ts';
import { building, type Building } from '../../shared/building/building.ts';
import { MessageBatches, messageOf, type GatewayMessage } from '../../shared/building/messages.ts';
import { demoBuildings, demoEdges } from '../../shared/building/scenarios/demo.ts';
import type { Entry } from '../../shared/building/truth.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import { planCycles } from './demo-cycles.ts';
import { readNotes, writeNotes, type FoundNotes } from './demo-notes.ts';
import { GatewayFleet } from './gateway-fleet.ts';

/**
 * The demonstration: simulated gateways tell a week of history through the ordinary MQTT door, then go on live. They
 * are publishers like any other: nothing of the line knows that the buildings are simulated, only the documents say so.
 */
export interface DemoOptions {
  readonly brokerUrl: string;
  /** first part of the topics */
  readonly root?: string;
  /** puts a site's document into the configuration, from always; answers whether the site was not known before */
  readonly putSite: (id: string, document: unknown) => Promise<{ readonly isNew: boolean }>;
  /** where it notes how far it has got */
  readonly notesFile: string;
  /** the wall clock, µs */
  readonly now: () => Instant;
  /** seconds of history at the first start, and at most after a pause */
  readonly historySeconds?: number;
  readonly say?: (line: string) => void;
}

export interface Demo {
  /** everything up to the start is acknowledged */
  readonly historyDone: Promise<void>;
  /** messages acknowledged so far */
  acknowledged(): number;
  stop(): Promise<void>;
  /** the same, once all that was told is acknowledged, and so committed; or not within a while */
  finish(): Promise<void>;
}

const WEEK_SECONDS = 7 * 86_400;
/** one message of a gateway covers this much of the past */
const WINDOW_SECONDS = 300;
/** the past is told by this much at a time, so that others get their turn */
const STRIDE = 1800 * SECOND;
const LIVE_HEARTBEAT_SECONDS = 5;
const TICK_MILLISECONDS = 200;
const FINISH_MILLISECONDS = 20_000;
const NOTES_EVERY = 10 * SECOND;
/** with a past but no notes of it: begin this long ago, enough for the first cycle */
const UNNOTED = 420 * SECOND;
/** of the shape of the states: raised when notes of before can't be used */
const STATES = 1;

export async function startDemo(options: DemoOptions): Promise<Demo> {
  const fresh = new Set<string>();
  for (const { site, document } of demoBuildings)
    if ((await options.putSite(site, document)).isNew) fresh.add(site);
  const fleet = new GatewayFleet({
    brokerUrl: options.brokerUrl,
    name: 'simulated',
    capacity: 400,
    inFlight: 100,
    onConnection: (connected, why) =>
      options.say?.(
        connected ? 'simulated gateways: connected again' : `simulated gateways: no broker (${why})`,
      ),
  });
  const run = new DemoRun(options, fleet);
  await run.begin(fresh);
  const historyDone = run.tellPast();
  const whole = historyDone.then(() => run.tellLive());
  whole.catch((error: unknown) => options.say?.(`the demonstration stopped: ${String(error)}`));
  const ended = whole.catch(() => undefined);
  const stop = async () => {
    run.stop();
    await fleet.close();
    await ended;
  };
  return {
    historyDone,
    acknowledged: () => fleet.acknowledged,
    stop,
    finish: async () => {
      run.stop();
      const late = new AbortController();
      const drained = ended.then(() => fleet.drained());
      await Promise.race([
        drained,
        setTimeout(FINISH_MILLISECONDS, undefined, { signal: late.signal }).catch(() => undefined),
      ]);
      late.abort();
      await stop();
    },
  };
}

interface Place {
  readonly site: string;
  /** tells its life rarely, as in history, and often, as when someone is looking */
  readonly past: Building;
  readonly live: Building;
  readonly batches: MessageBatches;
  state: BuildingState;
}

/**
 * The building as it was, or, where that isn't known, another one after all that has been told: the past is never told
 * twice in two ways.
 */
function continued(
  past: Building,
  found: FoundNotes,
  site: string,
  { oldest, now }: { readonly oldest: Instant; readonly now: Instant },
): BuildingState {
  const noted = found?.kind === 'same' ? found.notes.states[site] : undefined;
  if (noted && noted.t >= oldest && noted.t <= now) return past.resume(noted);
  const told = found === null ? now - UNNOTED : through(found) + 2 * NOTES_EVERY;
  return past.begin(Math.min(now, Math.max(oldest, told)));
}

const through = (found: NonNullable<FoundNotes>): Instant =>
  found.kind === 'same' ? found.notes.through : found.through;

class DemoRun {
  readonly #options: DemoOptions;
  readonly #fleet: GatewayFleet;
  readonly #root: string;
  readonly #edition = digest(String(STATES), JSON.stringify(demoBuildings));
  readonly #stopping = new AbortController();
  #places: Place[] = [];
  #cycles: readonly Instant[] = [];
  #notedAt: Instant = 0;

  constructor(options: DemoOptions, fleet: GatewayFleet) {
    this.#options = options;
    this.#fleet = fleet;
    this.#root = options.root ?? 'holdoff';
  }

  stop(): void {
    this.#stopping.abort();
  }

  get #stopped(): boolean {
    return this.#stopping.signal.aborted;
  }

  /** `fresh`: sites of which nothing has been told. */
  async begin(fresh: ReadonlySet<string>): Promise<void> {
    const now = this.#options.now();
    const oldest = now - (this.#options.historySeconds ?? WEEK_SECONDS) * SECOND;
    const found = await readNotes(this.#options.notesFile, this.#edition);
    this.#cycles = found?.kind === 'same' ? found.notes.cycles : [];
    this.#places = demoBuildings.map(({ site, document, plan }) => {
      const parsed = parseConfiguration(site, document);
      if (!parsed.ok) throw new Error(`${site}: ${JSON.stringify(parsed.faults)}`);
      const past = building(parsed.site, plan);
      const live = building(parsed.site, plan, { heartbeatSeconds: LIVE_HEARTBEAT_SECONDS });
      const span = { oldest, now };
      const state = fresh.has(site) ? past.begin(oldest) : continued(past, found, site, span);
      return {
        site,
        past,
        live,
        state,
        batches: new MessageBatches(this.#root, parsed.site, WINDOW_SECONDS),
      };
    });
    this.#planCycles(now);
    await this.#note();
  }

  #planCycles(now: Instant): boolean {
    const through = Math.max(...this.#places.map(({ state }) => state.t));
    const planned = planCycles(this.#cycles, { through, now });
    const more = planned !== this.#cycles;
    this.#cycles = planned;
    return more;
  }

  /** Everything up to now, in few large messages, in time order for each gateway. */
  async tellPast(): Promise<void> {
    for (;;) {
      const now = this.#options.now();
      const from = Math.min(...this.#places.map(({ state }) => state.t));
      const to = Math.min(now, from + STRIDE);
      for (const place of this.#places) await this.#tellWindow(place, to);
      if (this.#stopped || to === now) break;
      await setImmediate();
    }
    for (const { site, batches } of this.#places) await this.#send(site, batches.flush());
    await this.#fleet.drained();
    if (this.#stopped) return;
    await this.#note();
  }

  async #tellWindow(place: Place, to: Instant): Promise<void> {
    const messages = this.#advance(place, place.past, to).flatMap((entry) => place.batches.add(entry));
    await this.#send(place.site, messages);
  }

  /** From now on each thing is told when it happens. */
  async tellLive(): Promise<void> {
    for (const place of this.#places) place.state = place.live.resume(place.state);
    this.#options.say?.('simulated buildings: live');
    while (!this.#stopped) {
      const now = this.#options.now();
      if (this.#planCycles(now)) await this.#note();
      for (const place of this.#places) {
        const entries = this.#advance(place, place.live, now);
        await this.#send(
          place.site,
          entries.map((entry) => messageOf(this.#root, place.site, entry)),
        );
      }
      if (now - this.#notedAt > NOTES_EVERY) await this.#note();
      await setTimeout(TICK_MILLISECONDS, undefined, { signal: this.#stopping.signal }).catch(
        () => undefined,
      );
    }
  }

  #advance(place: Place, as: Building, to: Instant): Entry[] {
    const entries: Entry[] = [];
    if (to <= place.state.t) return entries;
    const edges = demoEdges(place.site, { from: place.state.t, to }, this.#cycles);
    as.advance(place.state, to, edges, { entry: (entry) => entries.push(entry), truth: () => undefined });
    return entries;
  }

  async #send(site: string, messages: readonly GatewayMessage[]): Promise<void> {
    for (const message of messages) await this.#fleet.send(site, message);
  }

  /** Written once everything up to here is acknowledged. */
  async #note(): Promise<void> {
    const states = Object.fromEntries(this.#places.map(({ site, state }) => [site, state]));
    const through = Math.max(...this.#places.map(({ state }) => state.t));
    const text = JSON.stringify({ edition: this.#edition, through, cycles: this.#cycles, states });
    await this.#fleet.drained();
    if (this.#stopped) return;
    await writeNotes(this.#options.notesFile, text);
    this.#notedAt = this.#options.now();
  }
}
