import { isLoopback } from './loopback.ts';
import type { BrokerPlace } from './service.ts';

const PLAIN_PORT = 1883;
const TLS_PORT = 8883;

/** Where gateways reach the broker, from what ingest is told of it (`ingest/settings.ts` checks and uses the same variables). */
export function readBrokerPlace(given: (name: string) => string | null, faults: string[]): BrokerPlace {
  const root = given('MQTT_ROOT') ?? 'holdoff';
  const url = given('MQTT_URL');
  if (url !== null && URL.canParse(url)) return { ...external(new URL(url)), root };
  const isTls = given('MQTT_TLS_CERT') !== null;
  const host = given('MQTT_HOST') ?? '127.0.0.1';
  if (!isLoopback(host) && !isTls)
    faults.push(
      `MQTT_HOST=${host} would let other machines reach the broker without TLS: give MQTT_TLS_CERT and MQTT_TLS_KEY, or leave it at 127.0.0.1.`,
    );
  const port = Number(isTls ? (given('MQTT_TLS_PORT') ?? TLS_PORT) : (given('MQTT_PORT') ?? PLAIN_PORT));
  return { kind: 'embedded', host: isEverywhere(host) ? null : host, port, isTls, root };
}

function external({ hostname, port, protocol }: URL): Omit<BrokerPlace, 'root'> {
  const isTls = /^(mqtts|ssl|wss):$/.test(protocol);
  return { kind: 'external', host: hostname, port: Number(port || (isTls ? TLS_PORT : PLAIN_PORT)), isTls };
}

const isEverywhere = (host: string): boolean => host === '0.0.0.0' || host === '::';
