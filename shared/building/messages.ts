import { MILLISECOND, seconds, type Instant } from '../base/instant.ts';
import type { Site } from '../telemetry/site.ts';
import type { Entry } from './truth.ts';

/** A message as a gateway publishes it (contract 1.1): device topic, or heartbeat. */
export interface GatewayMessage {
  readonly gateway: string;
  readonly topic: string;
  /** JSON text */
  readonly payload: string;
  readonly samples: number;
}

/** A time as a number of Unix milliseconds. */
const milliseconds = (t: Instant): number => t / MILLISECOND;

const isHeartbeat = (entry: Entry): boolean => entry.device === entry.gateway;

/** One entry, one message, as a gateway tells it at once. */
export function messageOf(root: string, site: string, entry: Entry): GatewayMessage {
  return isHeartbeat(entry) ? heartbeat(root, site, entry) : several(root, site, [entry]);
}

const heartbeat = (root: string, site: string, { gateway, t }: Entry): GatewayMessage => ({
  gateway,
  topic: `${root}/${site}/${gateway}/heartbeat`,
  payload: JSON.stringify({ t: milliseconds(t) }),
  samples: 0,
});

function several(root: string, site: string, entries: readonly Entry[]): GatewayMessage {
  const { gateway, device } = entries[0]!;
  const told = entries.map(({ t, signals }) => ({ t: milliseconds(t), signals }));
  let samples = 0;
  for (const { signals } of entries) samples += Object.keys(signals).length;
  const payload = JSON.stringify(told.length === 1 ? told[0] : told);
  return { gateway, topic: `${root}/${site}/${device}`, payload, samples };
}

/**
 * Many entries in few messages, for history: what a gateway has to tell of a device within a window goes in one array.
 * Each message shows that its gateway lived at its newest time, and an on-change point counts as known through that.
 * So a gateway's on-change device goes first in its window, and where a gateway has several of those, one message ends
 * where the next device's turn comes: within a gateway nothing is told after something later.
 */
export class MessageBatches {
  readonly #root: string;
  readonly #site: Site;
  readonly #window: number;
  readonly #watched: ReadonlyMap<string, ReadonlySet<string>>;
  readonly #waiting = new Map<string, Entry[]>();
  #until: Instant | null = null;

  constructor(root: string, site: Site, windowSeconds: number) {
    this.#root = root;
    this.#site = site;
    this.#window = seconds(windowSeconds);
    this.#watched = onChangeDevices(site);
  }

  /** Takes one more entry, in time order; gives the messages of a window that is over. */
  add(entry: Entry): GatewayMessage[] {
    const done = this.#until !== null && entry.t >= this.#until ? this.flush() : [];
    this.#until ??= (Math.floor(entry.t / this.#window) + 1) * this.#window;
    const waiting = this.#waiting.get(entry.gateway);
    if (waiting) waiting.push(entry);
    else this.#waiting.set(entry.gateway, [entry]);
    return done;
  }

  /** What is left. */
  flush(): GatewayMessage[] {
    const messages = [...this.#waiting].flatMap(([gateway, entries]) => this.#ofGateway(gateway, entries));
    this.#waiting.clear();
    this.#until = null;
    return messages;
  }

  #ofGateway(gateway: string, entries: readonly Entry[]): GatewayMessage[] {
    const watched = this.#watched.get(gateway) ?? new Set();
    const told = entries.filter((entry) => !isHeartbeat(entry));
    const groups = watched.size > 1 ? turns(told) : byDevice(told, watched);
    const messages = groups.map((group) => several(this.#root, this.#site.id, group));
    const last = entries.at(-1)!;
    return isHeartbeat(last) ? [...messages, heartbeat(this.#root, this.#site.id, last)] : messages;
  }
}

/** By gateway, the devices with points that report on change. */
function onChangeDevices(site: Site): Map<string, Set<string>> {
  const found = new Map<string, Set<string>>();
  const all = [
    ...site.points,
    ...[...site.spaces, ...site.panels, ...site.units].flatMap(({ points }) => points),
  ];
  for (const { gateway, device, reporting } of all) {
    if (reporting.mode !== 'on-change') continue;
    found.set(gateway, (found.get(gateway) ?? new Set()).add(device));
  }
  return found;
}

/** Runs of entries of one device. */
function turns(entries: readonly Entry[]): Entry[][] {
  const groups: Entry[][] = [];
  for (const entry of entries) {
    const last = groups.at(-1);
    if (last && last[0]!.device === entry.device) last.push(entry);
    else groups.push([entry]);
  }
  return groups;
}

function byDevice(entries: readonly Entry[], watched: ReadonlySet<string>): Entry[][] {
  const groups = new Map<string, Entry[]>();
  for (const entry of entries) {
    const group = groups.get(entry.device);
    if (group) group.push(entry);
    else groups.set(entry.device, [entry]);
  }
  return [...groups]
    .sort(([a], [b]) => Number(watched.has(b)) - Number(watched.has(a)))
    .map(([, group]) => group);
}

/** Entries on their way: what a lost uplink holds back comes when it is back, in the order in which it was told. */
export class DeliveryQueue {
  #held: Entry[] = [];

  /** Everything delivered by `until`, the new ones among it. */
  take(entries: readonly Entry[], until: Instant): Entry[] {
    const all = [...this.#held, ...entries];
    this.#held = all.filter(({ deliveredAt }) => deliveredAt > until);
    return all
      .filter(({ deliveredAt }) => deliveredAt <= until)
      .sort((a, b) => a.deliveredAt - b.deliveredAt || a.t - b.t);
  }
}
