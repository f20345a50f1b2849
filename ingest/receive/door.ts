import { once } from 'node:events';
import { stat } from 'node:fs/promises';
import { createServer, type AddressInfo, type Server, type Socket } from 'node:net';
import { createServer as createTlsServer, type Server as TlsServer, type TLSSocket } from 'node:tls';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import type { Observe } from '../observation.ts';
import { noteEntrance, shownCertificate } from './entrance.ts';
import { boundPackets } from './packet-bound.ts';
import type { RefusalBook } from './refusal-book.ts';
import { readBrokerCertificate, type TlsPlace } from './tls-place.ts';

/**
 * The embedded broker's doors: one without TLS, on the loopback address alone, and one with TLS, which asks for a client's
 * certificate and takes one that it proves to have the key of, whoever issued it: which one is whose is in the store
 * (admission.ts). There is no door beyond loopback without TLS.
 */
export interface DoorOptions {
  /** a loopback address */
  readonly host: string;
  /** 0: any free one */
  readonly port: number;
  readonly tls: TlsPlace | null;
  readonly mostClients: number;
  readonly book: RefusalBook;
  readonly now: () => Instant;
  readonly observe: Observe;
  readonly handle: (socket: Socket) => void;
}

export interface Door {
  readonly port: number;
  readonly tlsPort: number | null;
  /** ends every connection */
  close(): Promise<void>;
}

/** How long a client may take to close its side. */
const GOODBYE_MS = 1_000;
const HANDSHAKE_MS = 15_000;
const DAY = seconds(86_400);
/** Time enough to have another made. */
const CERTIFICATE_SOON = 30 * DAY;
const LOOK_AT_FILES_MS = 60_000;
/** Connections that haven't said who they are yet, beside the clients. */
const AT_THE_DOOR = 200;

export async function openDoor(options: DoorOptions): Promise<Door> {
  const plain = new OpenPort(options, createServer());
  await plain.listen(options.port, options.host, 'MQTT_PORT');
  const tls = options.tls ? await openTlsPort(options, options.tls).catch(closing(plain)) : null;
  return {
    port: plain.port,
    tlsPort: tls?.port.port ?? null,
    close: async () => {
      await Promise.all([plain.close(), tls?.close()]);
    },
  };
}

const closing =
  (port: OpenPort) =>
  async (error: unknown): Promise<never> => {
    await port.close();
    throw error;
  };

async function openTlsPort(options: DoorOptions, place: TlsPlace) {
  const { book, observe } = options;
  const pair = await readBrokerCertificate(place);
  const tell = tellOfEnd(options);
  tell(pair.endsAt);
  const server = createTlsServer({
    key: pair.key,
    cert: pair.cert,
    minVersion: 'TLSv1.2',
    requestCert: true,
    rejectUnauthorized: false, // pinned, each by its fingerprint
    handshakeTimeout: HANDSHAKE_MS,
  });
  const addresses = new WeakMap<object, string>();
  server.on('connection', (raw) => addresses.set(raw, raw.remoteAddress ?? ''));
  server.on('tlsClientError', (error: NodeJS.ErrnoException, socket) => {
    const why = isNoTls(error) ? 'no-tls' : 'tls-failed';
    if (error.code === 'ECONNRESET') return; // gone before it said anything, as port scans and health checks do
    const address = socket.remoteAddress ?? addresses.get(rawOf(socket)) ?? '';
    book.note({
      why,
      username: '',
      address: plainAddress(address),
      client: '',
      detail: error.code ?? error.message,
    });
    socket.destroy();
  });
  const port = new OpenPort(options, server);
  await port.listen(place.port, place.host, 'MQTT_TLS_PORT');
  let changed = await lastChange(place);
  const looking = setInterval(() => {
    void renew(place, server, { observe, tell, changed }).then((at) => (changed = at));
  }, LOOK_AT_FILES_MS);
  looking.unref();
  return { port, close: () => (clearInterval(looking), port.close()) };
}

/** What a TLS socket stands on; it has forgotten its address by the time that its handshake has failed. */
const rawOf = (socket: TLSSocket): object => (socket as unknown as { _parent?: object })._parent ?? socket;

/** OpenSSL's reasons where the first bytes aren't a TLS record: MQTT's CONNECT, or HTTP. */
const isNoTls = ({ code }: NodeJS.ErrnoException): boolean =>
  code === 'ERR_SSL_WRONG_VERSION_NUMBER' ||
  code === 'ERR_SSL_HTTP_REQUEST' ||
  code === 'ERR_SSL_PACKET_LENGTH_TOO_LONG' ||
  code === 'ERR_SSL_UNKNOWN_PROTOCOL';

interface Renewal {
  readonly observe: Observe;
  readonly tell: (endsAt: Instant) => void;
  /** when the files were last changed, as far as is known */
  readonly changed: number;
}

/** Its end is told for the counters each time, and once a day as something to be done while it is near. */
function tellOfEnd({ now, observe }: Pick<DoorOptions, 'now' | 'observe'>): (endsAt: Instant) => void {
  let told = -Infinity;
  return (endsAt) => {
    observe({ kind: 'tls-certificate', endsAt });
    const at = now();
    if (endsAt - at > CERTIFICATE_SOON || at - told < DAY) return;
    told = at;
    observe({ kind: 'tls-certificate-ends', endsAt, days: Math.floor((endsAt - at) / DAY) });
  };
}

const lastChange = async ({ certFile, keyFile }: TlsPlace): Promise<number> =>
  Math.max((await stat(certFile)).mtimeMs, (await stat(keyFile)).mtimeMs);

/** A certificate that was put in the place of the old one counts from the next minute on, without a restart. */
async function renew(
  place: TlsPlace,
  server: TlsServer,
  { observe, tell, changed }: Renewal,
): Promise<number> {
  try {
    const at = await lastChange(place);
    const pair = await readBrokerCertificate(place);
    if (at !== changed) server.setSecureContext({ key: pair.key, cert: pair.cert, minVersion: 'TLSv1.2' });
    tell(pair.endsAt);
    return at;
  } catch (error) {
    observe({ kind: 'broker-error', error: error instanceof Error ? error : new Error(String(error)) });
    return changed;
  }
}

class OpenPort {
  readonly #server: Server;
  readonly #sockets = new Set<Socket>();

  constructor(options: DoorOptions, server: Server | TlsServer) {
    this.#server = server;
    server.maxConnections = options.mostClients + AT_THE_DOOR;
    const isTls = 'setSecureContext' in server;
    server.on(isTls ? 'secureConnection' : 'connection', (socket: Socket) =>
      this.#take(options, socket, isTls),
    );
  }

  get port(): number {
    return (this.#server.address() as AddressInfo).port;
  }

  #take({ handle, observe }: DoorOptions, socket: Socket, isTls: boolean): void {
    this.#sockets.add(socket);
    socket.once('close', () => this.#sockets.delete(socket));
    const certificate = isTls ? shownCertificate(socket as TLSSocket) : null;
    noteEntrance(socket, { isPlain: !isTls, address: plainAddress(socket.remoteAddress ?? ''), certificate });
    boundPackets(socket, () =>
      observe({ kind: 'client-refused', client: String(socket.remotePort), why: 'packet too large' }),
    );
    handle(socket);
  }

  async listen(port: number, host: string, variable: string): Promise<void> {
    this.#server.listen(port, host);
    try {
      await once(this.#server, 'listening');
    } catch (cause) {
      if ((cause as NodeJS.ErrnoException).code !== 'EADDRINUSE') throw cause;
      const hint = `another broker listens there. Set another ${variable}, or MQTT_URL to use that broker.`;
      throw new Error(`${variable} ${port} is taken: ${hint}`, { cause });
    }
  }

  async close(): Promise<void> {
    const closed = once(this.#server, 'close');
    this.#server.close();
    for (const socket of this.#sockets) socket.end();
    const patience = setTimeout(() => this.#sockets.forEach((socket) => socket.destroy()), GOODBYE_MS);
    await closed;
    clearTimeout(patience);
  }
}

/** IPv4 as it is written, also on a socket that speaks both. */
const plainAddress = (address: string): string => address.replace(/^::ffff:/, '');
