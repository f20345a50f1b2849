import type { Server as HttpServer } from 'node:http';
import { Server, type Socket } from 'socket.io';
import { formatInstant } from '../../shared/base/instant.ts';
import type { JoinAnswer, LiveFrames, LiveRequests } from '../../shared/wire/frames.ts';
import { SLUG } from '../../shared/wire/site-document.ts';
import { admit, SAYS } from '../http/access.ts';
import type { Setup } from '../follow/setup.ts';
import type { Service } from '../service.ts';
import { watchChanges, type Change } from './changes.ts';
import { Member, type Line } from './client.ts';
import { newSamples, type NewSamples } from './new-samples.ts';
import { siteChanges } from './read-change.ts';
import type { RoomChange } from './room-changes.ts';

/**
 * The live socket (contract section 6). Every server looks at what has been committed, by whomever, and tells its own
 * clients. A room counts its changes; nobody in it, nothing is kept of it.
 */
export interface Live {
  /** something was committed */
  nudge(): void;
  readonly revisionOf: (room: string) => number;
  readonly clients: () => number;
  attach(server: HttpServer): void;
  stop(): Promise<void>;
}

export interface LiveOptions {
  readonly service: () => Service;
  readonly failed: (error: unknown) => void;
  readonly sent: (frame: keyof LiveFrames) => void;
}

interface Room {
  revision: number;
  readonly members: Map<string, Member>;
  readonly site: string | null;
  readonly samples: NewSamples | null;
}

const ROOMS_A_CLIENT = 8;
const CLIENTS = 2000;
const BYTES_FROM_A_CLIENT = 4096;

type Client = Socket<LiveRequests, LiveFrames>;

export function makeLive({ service, failed, sent }: LiveOptions): Live {
  const rooms = new Map<string, Room>();
  const heads = new Map<string, string>();
  const configured = new Map<string, number>();
  let io: Server<LiveRequests, LiveFrames> | null = null;
  let watch: ReturnType<typeof watchChanges> | null = null;

  async function enter(client: Client, name: string): Promise<JoinAnswer> {
    const site = siteOfRoom(name);
    if (site === null && name !== 'board') return refuse('A room is "board" or "site:<id>".');
    const setup = site === null ? null : await service().setups.read(service().database, site);
    if (site !== null && !setup) return refuse(`There is no site "${site}".`);
    const room = rooms.get(name) ?? openRoom(site);
    rooms.set(name, room);
    // from here on its samples are told: whoever fetches after the answer misses none
    if (setup) await giveSamples(setup);
    if (client.disconnected) return refuse('The page has gone.');
    if (rooms.get(name) !== room) return enter(client, name); // its last client left meanwhile
    const { epoch, now } = service();
    const serverTime = () => formatInstant(now());
    const place = { epoch, revision: () => room.revision, serverTime, site };
    room.members.set(client.id, new Member(lineOf(client, sent), place));
    return { ok: true, epoch, revision: room.revision, serverTime: serverTime() };
  }

  /** A counter that never goes back, though the room was empty meanwhile. */
  let counted = 0;
  const openRoom = (site: string | null): Room => ({
    revision: ++counted,
    members: new Map(),
    site,
    samples: site === null ? null : newSamples(service().database),
  });

  function leave(client: Client, name: string): void {
    const room = rooms.get(name);
    room?.members.get(client.id)?.leave();
    room?.members.delete(client.id);
    if (room?.members.size === 0) rooms.delete(name);
  }

  function tell(name: string, change: RoomChange): void {
    const room = rooms.get(name);
    if (!room) return;
    counted = Math.max(counted, ++room.revision);
    for (const member of room.members.values()) member.add(change);
  }

  async function give(change: Change): Promise<void> {
    if (change.overrun) for (const room of rooms.values()) skip(room);
    for (const setup of change.setups) noteConfiguration(setup);
    const changes = siteChanges(change, heads, service().now());
    for (const [site, one] of changes) {
      tell(`site:${site}`, one);
      tell('board', one);
    }
    for (const setup of change.setups) await giveSamples(setup);
  }

  function skip(room: Room): void {
    counted = Math.max(counted, ++room.revision);
    for (const member of room.members.values()) member.overrun();
  }

  /** Another configuration changes more than parts: whoever looks at the site fetches it again. */
  function noteConfiguration({ id, revision }: Setup): void {
    const before = configured.get(id);
    configured.set(id, revision);
    if (before === revision || before === undefined) return;
    for (const name of [`site:${id}`, 'board']) if (rooms.has(name)) skip(rooms.get(name)!);
  }

  async function giveSamples(setup: Setup): Promise<void> {
    const name = `site:${setup.id}`;
    const room = rooms.get(name);
    const samples = (await room?.samples?.read(setup, service().now())) ?? [];
    if (samples.length > 0) tell(name, { parts: [], events: [], withdrawn: [], samples });
  }

  function welcome(client: Client): void {
    const joined = new Set<string>();
    client.on('join', (room, answer) => {
      if (typeof room !== 'string' || typeof answer !== 'function') return;
      if (joined.size >= ROOMS_A_CLIENT && !joined.has(room)) return answer(refuse('Leave a room first.'));
      leave(client, room);
      joined.add(room);
      void enter(client, room).then(
        (answered) => {
          if (!answered.ok) joined.delete(room);
          answer(answered);
        },
        (error: unknown) => {
          joined.delete(room);
          failed(error);
          answer(refuse('The store can’t be reached just now.'));
        },
      );
    });
    client.on('leave', (room) => {
      if (typeof room !== 'string') return;
      joined.delete(room);
      leave(client, room);
    });
    client.on('disconnect', () => {
      for (const room of joined) leave(client, room);
    });
    client.conn.on('drain', () => {
      for (const room of joined) rooms.get(room)?.members.get(client.id)?.hurry();
    });
  }

  return {
    nudge: () => watch?.nudge(),
    revisionOf: (name) => rooms.get(name)?.revision ?? counted,
    clients: () => io?.engine.clientsCount ?? 0,
    attach(server) {
      io = new Server<LiveRequests, LiveFrames>(server, {
        path: '/live',
        serveClient: false,
        maxHttpBufferSize: BYTES_FROM_A_CLIENT,
        allowRequest: (request, decide) => {
          const full = (io?.engine.clientsCount ?? 0) >= CLIENTS;
          decide(full ? 'There are too many pages on this server.' : null, !full);
          void request;
        },
      });
      io.use((client, next) => {
        const refused = refusalOf(service(), client);
        next(refused === null ? undefined : new Error(refused));
      });
      io.on('connection', welcome);
      watch = watchChanges(service(), give, failed);
    },
    async stop() {
      await watch?.stop();
      await io?.close();
    },
  };
}

const refuse = (says: string): JoinAnswer => ({ ok: false, says });

const siteOfRoom = (name: string): string | null => {
  const site = name.startsWith('site:') ? name.slice(5) : '';
  return new RegExp(SLUG).test(site) ? site : null;
};

/** null: let in */
function refusalOf(service: Service, client: Client): string | null {
  const { token } = client.handshake.auth as { token?: unknown };
  const authorization =
    typeof token === 'string' ? `Bearer ${token}` : client.handshake.headers.authorization;
  const admission = admit({ token: service.token }, { authorization, address: client.handshake.address });
  return admission === 'admitted' ? null : SAYS[admission];
}

function lineOf(client: Client, sent: LiveOptions['sent']): Line {
  const through = <F extends keyof LiveFrames>(name: F) =>
    ((frame: never) => {
      (client.emit as (name: F, frame: never) => boolean)(name, frame);
      sent(name);
    }) as LiveFrames[F];
  return {
    ready: () => client.conn.transport.writable && client.conn.readyState === 'open',
    status: through('status'),
    samples: through('samples'),
    event: through('event'),
  };
}
