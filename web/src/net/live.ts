import { io, type Socket } from 'socket.io-client';
import type {
  AlarmFrame,
  EventFrame,
  JoinAnswer,
  LiveFrames,
  LiveRequests,
  SamplesFrame,
  StatusFrame,
} from '../../../shared/wire/frames.ts';
import { sayShutOut } from './shut-out.ts';

/** The live socket: the only file that knows socket.io. */
export type Frame =
  | ({ readonly kind: 'status' } & StatusFrame)
  | ({ readonly kind: 'samples' } & SamplesFrame)
  | ({ readonly kind: 'event' } & EventFrame)
  | ({ readonly kind: 'alarm' } & AlarmFrame);

export interface Room {
  readonly name: string;
  /** joined, also again after a break: fetch now, frames that come meanwhile may be skipped */
  joined(answer: JoinAnswer): void;
  frame(frame: Frame): void;
  /** the socket is gone for now */
  parted(): void;
}

let socket: Socket<LiveFrames, LiveRequests> | null = null;
const rooms = new Set<Room>();
const watchers = new Set<(up: boolean) => void>();

/** Enters a room until the answer is called. */
export function enter(room: Room): () => void {
  const line = connected();
  rooms.add(room);
  if (line.connected) join(line, room);
  return () => {
    rooms.delete(room);
    // another part of the page may still follow the same room
    if (![...rooms].some(({ name }) => name === room.name)) line.emit('leave', room.name);
  };
}

/** Comes back to a server that had shut this page out. */
export function comeBack(): void {
  if (socket && !socket.active) socket.connect();
}

/** Told whenever this page's own link to the server goes up or down. */
export function watchLink(watcher: (up: boolean) => void): () => void {
  watchers.add(watcher);
  watcher(connected().connected);
  return () => watchers.delete(watcher);
}

function connected(): Socket<LiveFrames, LiveRequests> {
  if (socket) return socket;
  const line: Socket<LiveFrames, LiveRequests> = io({
    path: '/live',
    transports: ['websocket', 'polling'],
    reconnectionDelay: 500,
    reconnectionDelayMax: 5_000,
    timeout: 5_000,
  });
  line.on('connect', () => {
    for (const watcher of watchers) watcher(true);
    for (const room of rooms) join(line, room);
  });
  line.on('connect_error', () => {
    if (!line.active) sayShutOut(); // the server said no: it isn't tried again by itself
  });
  line.on('disconnect', (reason) => {
    if (reason === 'io server disconnect') sayShutOut();
    for (const watcher of watchers) watcher(false);
    for (const room of rooms) room.parted();
  });
  line.on('status', (frame) => hand({ kind: 'status', ...frame }));
  line.on('samples', (frame) => hand({ kind: 'samples', ...frame }));
  line.on('event', (frame) => hand({ kind: 'event', ...frame }));
  line.on('alarm', (frame) => hand({ kind: 'alarm', ...frame }));
  socket = line;
  return line;
}

const join = (line: Socket<LiveFrames, LiveRequests>, room: Room): void => {
  line.emit('join', room.name, (answer) => {
    if (rooms.has(room)) room.joined(answer);
  });
};

/** A page is in one room at a time; a frame of a room just left is out of order for the next and is dropped there. */
const hand = (frame: Frame): void => {
  for (const room of rooms) room.frame(frame);
};
