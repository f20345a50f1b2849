import type { ChannelKind } from '../db/channels.ts';
import type { Database } from '../db/pool.ts';
import type { Accounts } from './accounts/accounts.ts';
import type { Demonstration } from './demonstration.ts';
import type { Follower } from './follow/follower.ts';
import type { Sender } from './notify/vapid.ts';
import type { Setups } from './follow/setup.ts';

/** What the routes about notices stand on. */
export interface Notices {
  /** signs links in messages and addresses of feeds */
  readonly linkKey: Buffer;
  /** where this server is reached from elsewhere, ending in a slash; null: only from this machine */
  readonly publicUrl: string | null;
  /** kinds of channels that this server can send by */
  readonly kinds: readonly ChannelKind[];
  /** shows push services who sends */
  readonly pushSender: Sender;
  /** push services on this machine or in its network may be called */
  readonly pushIsLocal: boolean;
}

/** What the HTTP routes and the live socket stand on: the parts of the running server, and nothing that starts them. */
export interface Service {
  readonly database: Database;
  readonly databaseKind: 'embedded' | 'external';
  readonly setups: Setups;
  readonly follower: Follower | null;
  readonly accounts: Accounts;
  readonly notices: Notices;
  /** the first words of telemetry’s topics */
  readonly telemetryRoot: string;
  /** under which stack lights are told; null: none is */
  readonly sounderRoot: string | null;
  readonly version: string;
  /** the server's clock, µs */
  readonly now: () => number;
  /** the name of this server process, for frames */
  readonly epoch: string;
  /** the live room's counter; 0 where nobody has joined it */
  readonly revisionOf: (room: string) => number;
  /** alarms were decided on: look at once */
  readonly alarmsChanged: () => void;
  /** a proof has something new: look at once */
  readonly proofsChanged: () => void;
  /** parts beside the database, as they are now */
  readonly parts: () => readonly Part[];
  /** the broker as gateways reach it */
  readonly broker: BrokerPlace;
  /** null: this process tells none */
  readonly demonstration: Demonstration | null;
}

/** A part that this server leans on. */
export interface Part {
  readonly name: string;
  readonly ok: boolean;
  readonly says: string;
  /** false: told, but this server is ready without it */
  readonly gates?: boolean;
  /** well, and not for long: somebody is told ahead */
  readonly isSoonWrong?: boolean;
}

/** The broker as gateways reach it. */
export interface BrokerPlace {
  readonly kind: 'embedded' | 'external';
  /** null: this server's own name */
  readonly host: string | null;
  readonly port: number;
  readonly isTls: boolean;
  /** the first words of our topics */
  readonly root: string;
}
