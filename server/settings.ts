import { resolve } from 'node:path';
import { readBrokerPlace } from './broker-place.ts';
import { isLoopback } from './loopback.ts';
import { readNotifySettings, type NotifySettings } from './notify/settings.ts';
import type { BrokerPlace } from './service.ts';
import { readRecordSettings, type RecordSettings } from './retention/settings.ts';
import { readSounderSettings, type SounderSettings } from './sounder/settings.ts';
import { readWatcherSettings, type WatcherSettings } from './watcher/settings.ts';

/**
 * The environment, read here and nowhere else (contract section 7). What is wrong with it is said in full, in the words
 * of the one who set it, before anything starts.
 */
export interface Settings {
  readonly port: number;
  readonly host: string;
  /** null: the embedded PostgreSQL */
  readonly databaseUrl: string | null;
  /** null: the embedded broker */
  readonly mqttUrl: string | null;
  readonly mqttPort: number;
  readonly mqttRoot: string;
  /** as gateways reach it, for what they are told */
  readonly broker: BrokerPlace;
  readonly dataFolder: string;
  /** null: the API is open, on loopback only */
  readonly token: string | null;
  /** null: people sign in here alone */
  readonly provider: ProviderSettings | null;
  readonly demo: boolean;
  readonly notify: NotifySettings;
  /** null: no stack light is told */
  readonly sounder: SounderSettings | null;
  readonly record: RecordSettings;
  /** null: nobody is told when this server itself fails */
  readonly watcher: WatcherSettings | null;
}

/** An organisation's provider of identities (OpenID Connect). */
export interface ProviderSettings {
  readonly issuer: string;
  readonly clientId: string;
  /** null: a public client, by PKCE alone */
  readonly clientSecret: string | null;
  /** what people know it by */
  readonly name: string;
  /** where browsers reach this server */
  readonly publicUrl: string;
}

export type ReadSettings =
  | { readonly ok: true; readonly settings: Settings }
  | { readonly ok: false; readonly faults: readonly string[] };

type Environment = Readonly<Record<string, string | undefined>>;

const SHORTEST_TOKEN = 32;

export function readSettings(environment: Environment): ReadSettings {
  const faults: string[] = [];
  const given = (name: string): string | null => environment[name]?.trim() || null;
  const notify = readNotifySettings(environment, faults);
  const settings: Settings = {
    port: portOf('PORT', given('PORT'), 8080, faults),
    host: given('HOST') ?? '127.0.0.1',
    databaseUrl: urlOf('DATABASE_URL', given('DATABASE_URL'), ['postgres:', 'postgresql:'], faults),
    mqttUrl: urlOf('MQTT_URL', given('MQTT_URL'), ['mqtt:', 'mqtts:', 'ws:', 'wss:', 'tcp:', 'ssl:'], faults),
    mqttPort: portOf('MQTT_PORT', given('MQTT_PORT'), 1883, faults),
    mqttRoot: given('MQTT_ROOT') ?? 'holdoff',
    broker: readBrokerPlace(given, faults),
    dataFolder: resolve(given('DATA_DIR') ?? './data'),
    token: tokenOf(given('BOOTSTRAP_TOKEN'), faults),
    provider: providerOf(given, notify.publicUrl, faults),
    demo: isDemo(given('DEMO'), given('MQTT_URL'), faults),
    notify,
    sounder: readSounderSettings(environment, faults),
    record: readRecordSettings(environment, faults),
    watcher: readWatcherSettings(environment, notify.mail, faults),
  };
  if (settings.token === null && given('BOOTSTRAP_TOKEN') === null && !isLoopback(settings.host))
    faults.push(
      `HOST=${settings.host} would let other machines in, and there is no token: set BOOTSTRAP_TOKEN ` +
        `(at least ${SHORTEST_TOKEN} characters), or leave HOST at 127.0.0.1.`,
    );
  return faults.length > 0 ? { ok: false, faults } : { ok: true, settings };
}

function portOf(name: string, text: string | null, standard: number, faults: string[]): number {
  if (text === null) return standard;
  const port = Number(text);
  if (/^\d+$/.test(text) && port <= 65_535) return port;
  faults.push(`${name}=${text} isn’t a port: give a whole number from 0 to 65535 (0: any free one).`);
  return standard;
}

function urlOf(
  name: string,
  text: string | null,
  schemes: readonly string[],
  faults: string[],
): string | null {
  if (text === null) return null;
  const scheme = URL.canParse(text) ? new URL(text).protocol : null;
  if (scheme !== null && schemes.includes(scheme)) return text;
  faults.push(
    `${name} isn’t an address of that kind: it begins with ${schemes.slice(0, 2).join('// or ')}//.`,
  );
  return null;
}

function tokenOf(text: string | null, faults: string[]): string | null {
  if (text !== null && text.length < SHORTEST_TOKEN) {
    faults.push(
      `BOOTSTRAP_TOKEN has ${text.length} characters: give at least ${SHORTEST_TOKEN}, for it opens everything.`,
    );
    return null;
  }
  return text;
}

function providerOf(
  given: (name: string) => string | null,
  publicUrl: string | null,
  faults: string[],
): ProviderSettings | null {
  const issuer = secureUrlOf('OIDC_ISSUER', given('OIDC_ISSUER'), faults);
  const clientId = given('OIDC_CLIENT_ID');
  if (issuer === null && clientId === null) return null;
  if (issuer === null || clientId === null || publicUrl === null) {
    faults.push('For OpenID Connect give OIDC_ISSUER, OIDC_CLIENT_ID and PUBLIC_URL together.');
    return null;
  }
  const name = given('OIDC_NAME') ?? new URL(issuer).hostname;
  return { issuer, clientId, clientSecret: given('OIDC_CLIENT_SECRET'), name, publicUrl };
}

/** HTTPS, or HTTP on this machine. */
function secureUrlOf(name: string, text: string | null, faults: string[]): string | null {
  if (text === null) return null;
  const url = URL.canParse(text) ? new URL(text) : null;
  if (url?.protocol === 'https:' || (url?.protocol === 'http:' && isLoopback(url.hostname))) return text;
  faults.push(
    `${name} isn’t an address of that kind: it begins with https://, on this machine also http://.`,
  );
  return null;
}

function isDemo(text: string | null, mqttUrl: string | null, faults: string[]): boolean {
  if (text !== null && text !== '0' && text !== '1') faults.push(`DEMO=${text}: give 0 or 1.`);
  if (text === '1') return true;
  return text === null && mqttUrl === null;
}

/** How much is logged: LOG_LEVEL, one of pino's words. */
export function logLevelOf(environment: Environment): string {
  const level = environment['LOG_LEVEL']?.trim() ?? '';
  return ['fatal', 'error', 'warn', 'info', 'debug', 'trace', 'silent'].includes(level) ? level : 'info';
}
