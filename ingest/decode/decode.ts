import type { Instant } from '../../shared/base/instant.ts';
import type { Catalogue, KnownGateway, KnownPoint, KnownSite } from '../catalogue.ts';
import type { Message } from '../message.ts';
import { parseTopic, type Place } from '../topic.ts';
import type { Decoded } from './decoded.ts';
import { takeDeviceMessage } from './device-message.ts';
import { Intake } from './intake.ts';
import { isObject, parsePayload } from './json.ts';
import { takeSignalMessage } from './signal-message.ts';
import { parseTime } from './time.ts';

export interface DecodeContext {
  readonly root: string;
  readonly catalogue: Catalogue;
  /** a point's next time of arrival, strictly increasing */
  readonly arrivalOf: (point: KnownPoint | KnownGateway, receivedAt: Instant) => Instant;
}

/**
 * What a message says. Depends on its arguments alone and never throws: whatever can't be understood comes back as set
 * aside. First the topic, then the payload as text, then its entries, one by one.
 */
export function decode(message: Message, { root, catalogue, arrivalOf }: DecodeContext): Decoded {
  const intake = new Intake(message, (point) => arrivalOf(point, message.receivedAt));
  const place = parseTopic(root, message.topic);
  if (!place) intake.refuse('topic-not-known', 'topic', undefined);
  else takePlace(intake, catalogue.sites.get(place.site), place, arrivalOf);
  return intake.finish();
}

function takePlace(
  intake: Intake,
  site: KnownSite | undefined,
  place: Place,
  arrivalOf: DecodeContext['arrivalOf'],
): void {
  const { device, signal } = place;
  const gateway = site?.gateways.get(device);
  if (signal === 'offline' && gateway) return; // a last will adds no life
  const parsed = parsePayload(intake.message.payload);
  const point = site?.points.get(`${device}/${signal}`);
  const isKnown = signal === null ? site?.devices.has(device) : point || (signal === 'heartbeat' && gateway);
  if (!parsed.ok) intake.refuse(parsed.reason, 'payload', undefined);
  else if (!site || !isKnown) intake.refuse('point-not-known', whereOf(place), undefined);
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
