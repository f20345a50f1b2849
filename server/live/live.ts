import type { Server as HttpServer } from 'node:http';
import { Server } from 'socket.io';
import { formatInstant } from '../../shared/base/instant.ts';
import type { JoinAnswer, LiveFrames, LiveRequests } from '../../shared/wire/frames.ts';
import { SLUG } from '../../shared/wire/site-document.ts';
import { isInScope } from '../../shared/wire/may.ts';
import { originOf } from '../http/own-origin.ts';
import type { Service } from '../service.ts';
import { watchChanges } from './changes.ts';
import type { Line } from './client.ts';
import { letIn, watchAdmitted, type Admitted } from './admitted.ts';
import { Rooms } from './rooms.ts';

/**
 * The live socket (contract section 6). Every server looks at what has been committed, by whomever, and tells its own
 * clients.
 */
export interface Live {
  /** something was committed */
  nudge(): void;
  /** pages on the socket, rooms with somebody in them, pages in rooms */
  readonly load: () => { readonly clients: number; readonly rooms: number; readonly members: number };
  stop(): Promise<void>;
}

export interface LiveOptions {
  readonly service: Service;
  readonly rooms: Rooms;
  readonly failed: (error: unknown) => void;
  readonly sent: (frame: keyof LiveFrames) => void;
  readonly count: Line['count'];
}

const ROOMS_A_CLIENT = 8;
const CLIENTS = 2000;
const BYTES_FROM_A_CLIENT = 4096;

type LiveServer = Server<LiveRequests, LiveFrames, Record<string, never>, Admitted>;
type Client = ReturnType<LiveServer['sockets']['sockets']['get']> & object;

export function startLive(server: HttpServer, options: LiveOptions): Live {
  const { service, rooms, failed } = options;
  const io: LiveServer = new Server(server, {
    path: '/live',
    serveClient: false,
    maxHttpBufferSize: BYTES_FROM_A_CLIENT,
    allowRequest: ({ headers }, decide) => {
      const full = io.engine.clientsCount >= CLIENTS;
      const foreign = originOf(headers) === 'foreign'; // another site's page, with this one's cookie
      decide(full ? 'There are too many pages on this server.' : null, !full && !foreign);
    },
  });
  io.use((client, next) => void letIn(service.accounts, client).then(next, next));
  io.on('connection', (client) => welcome(client, options));
  const admitted = watchAdmitted(service.accounts, () => [...io.sockets.sockets.values()], failed);
  const watch = watchChanges(service, (change) => rooms.give(change), failed);
  return {
    nudge: () => watch.nudge(),
    load: () => ({ clients: io.engine.clientsCount, ...rooms.load }),
    async stop() {
      await admitted.stop();
      await watch.stop();
      await io.close();
    },
  };
}

function welcome(client: Client, options: LiveOptions): void {
  const { rooms, failed } = options;
  const joined = new Set<string>();
  const leave = (room: string) => {
    joined.delete(room);
    rooms.leave(room, client.id);
  };
  client.on('join', (room, answer) => {
    if (typeof room !== 'string' || typeof answer !== 'function') return;
    leave(room);
    if (joined.size >= ROOMS_A_CLIENT) return answer(refuse('Leave a room first.'));
    joined.add(room);
    const entered = enter(client, room, options).catch((error: unknown) => {
      failed(error);
      return refuse('The store can’t be reached just now.');
    });
    void entered.then((answered) => {
      if (!answered.ok || client.disconnected) leave(room);
      answer(answered);
    });
  });
  client.on('leave', (room) => {
    if (typeof room === 'string') leave(room);
  });
  client.on('disconnect', () => joined.forEach(leave));
  client.conn.on('drain', () => joined.forEach((room) => rooms.hurry(room, client.id)));
}

async function enter(
  client: Client,
  room: string,
  { service, rooms, sent, count }: LiveOptions,
): Promise<JoinAnswer> {
  const site = siteOfRoom(room);
  if (site === null && room !== 'board') return refuse('A room is "board" or "site:<id>".');
  const setup = site === null ? null : await service.setups.read(service.database, site);
  const { sites } = client.data.asker.actor;
  if (site !== null && (!setup || !isInScope(sites, site))) return refuse(`There is no site "${site}".`);
  const serverTime = () => formatInstant(service.now());
  const member = { id: client.id, line: lineOf(client, sent, count), serverTime, sites };
  const revision = await rooms.enter(room, setup, member);
  return { ok: true, epoch: service.epoch, revision, serverTime: serverTime() };
}

const refuse = (says: string): JoinAnswer => ({ ok: false, says });

const siteOfRoom = (name: string): string | null => {
  const site = name.startsWith('site:') ? name.slice(5) : '';
  return new RegExp(SLUG).test(site) ? site : null;
};

function lineOf(client: Client, sent: LiveOptions['sent'], count: Line['count']): Line {
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
    alarm: through('alarm'),
    count,
  };
}
