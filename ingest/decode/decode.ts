import type { Instant } from '../../shared/base/instant.ts';
import type { Catalogue, KnownGateway, KnownPoint, KnownSite, KnownSource } from '../catalogue.ts';
import type { Message } from '../message.ts';
import { isBelow, parseTopic, type Place } from '../topic.ts';
import type { Decoded } from './decoded.ts';
import { takeDeviceMessage } from './device-message.ts';
import { Intake } from './intake.ts';
import { isObject, parsePayload } from './json.ts';
import { takeMappedMessage } from './mapped-message.ts';
import { takeSignalMessage } from './signal-message.ts';
import { takeSparkplug } from './sparkplug.ts';
import { parseTime } from './time.ts';

export interface DecodeContext {
  readonly root: string;
  readonly catalogue: Catalogue;
  /** a point's next time of arrival, strictly increasing */
  readonly arrivalOf: (point: KnownPoint | KnownGateway, receivedAt: Instant) => Instant;
}

/**
 * What a message says. Depends on its arguments alone and never throws: whatever can't be understood comes back as set
 * aside. First the topic, then the payload as text, then its entries, one by one. A topic of the root's own form is its
 * point's, whatever else is configured; else it is of those points that name it as their source; a topic outside the root
 * that nobody named is none of ours.
 */
export function decode(message: Message, { root, catalogue, arrivalOf }: DecodeContext): Decoded {
  const intake = new Intake(message, (point) => arrivalOf(point, message.receivedAt), catalogue.floor);
  if (message.said) {
    takeSparkplug(intake, catalogue, message.said);
    return intake.finish();
  }
  const { place, site, known, sources } = locate(root, catalogue, message.topic);
  if (sources.length > 0) takeMappedMessage(intake, sources);
  else if (place) takePlace(intake, site, place, known, arrivalOf);
  else if (isBelow(root, message.topic)) intake.refuse('topic-not-known', 'topic', undefined);
  return intake.finish();
}

/** What a topic concerns under one catalogue. */
interface Located {
  readonly place: Place | null;
  readonly site: KnownSite | undefined;
  /** the site has what the topic names */
  readonly known: boolean;
  readonly sources: readonly KnownSource[];
}

/** Topics come again and again: where each belongs is found once, as long as the catalogue stands. */
interface Found {
  readonly root: string;
  readonly byTopic: Map<string, Located>;
}
const found = new WeakMap<Catalogue, Found>();
const MOST_FOUND = 20_000;

function locate(root: string, catalogue: Catalogue, topic: string): Located {
  let kept = found.get(catalogue);
  if (kept?.root !== root) found.set(catalogue, (kept = { root, byTopic: new Map() }));
  const { byTopic } = kept;
  let located = byTopic.get(topic);
  if (!located) {
    if (byTopic.size >= MOST_FOUND) byTopic.clear();
    byTopic.set(topic, (located = place(root, catalogue, topic)));
  }
  return located;
}

function place(root: string, catalogue: Catalogue, topic: string): Located {
  const named = parseTopic(root, topic);
  const site = named ? catalogue.sites.get(named.site) : undefined;
  const known = named !== null && isKnown(site, named);
  return { place: named, site, known, sources: known ? [] : catalogue.sources.match(topic) };
}

const GATEWAY_TOPICS = ['heartbeat', 'offline'];

function isKnown(site: KnownSite | undefined, { device, signal }: Place): boolean {
  if (!site) return false;
  if (signal === null) return site.devices.has(device);
  return (
    site.points.has(`${device}/${signal}`) || (site.gateways.has(device) && GATEWAY_TOPICS.includes(signal))
  );
}

function takePlace(
  intake: Intake,
  site: KnownSite | undefined,
  place: Place,
  known: boolean,
  arrivalOf: DecodeContext['arrivalOf'],
): void {
  const { device, signal } = place;
  const gateway = site?.gateways.get(device);
  if (signal === 'offline' && gateway) return; // a last will adds no life
  const parsed = parsePayload(intake.message.payload);
  const point = site?.points.get(`${device}/${signal}`);
  if (!parsed.ok) intake.refuse(parsed.reason, 'payload', undefined);
  else if (!site || !known) intake.refuse('point-not-known', whereOf(place), undefined);
  else if (signal === null) takeDeviceMessage(intake, site, place, parsed.body);
  else if (point) takeSignalMessage(intake, point, parsed.body);
  else takeHeartbeat(intake, gateway!, parsed.body, arrivalOf);
}

const whereOf = ({ site, device, signal }: Place): string =>
  [site, device, signal].filter((word) => word !== null).join('/');

/** `{"t": …}`: the gateway lived at that time and had nothing else to tell. */
function takeHeartbeat(
  intake: Intake,
  gateway: KnownGateway,
  body: unknown,
  arrivalOf: DecodeContext['arrivalOf'],
): void {
  const claimed = isObject(body) ? body['t'] : null;
  const { receivedAt, waited } = intake.message;
  if (isObject(body) && claimed === undefined) {
    if (!waited) intake.takeHeartbeat({ gateway, t: arrivalOf(gateway, receivedAt) }, () => body, true);
    return;
  }
  const t = parseTime(claimed);
  if (t === null) intake.refuse('time-not-known', 'heartbeat', claimed);
  else intake.takeHeartbeat({ gateway, t }, () => body);
}
