import type { Sites } from '../../shared/wire/may.ts';
import type { Setup } from '../follow/setup.ts';
import type { Service } from '../service.ts';
import type { Change } from './changes.ts';
import { Member, type Line } from './client.ts';
import { newSamples, type NewSamples } from './new-samples.ts';
import { siteChanges } from './read-change.ts';
import type { RoomChange } from './room-changes.ts';

/**
 * Who looks at what. A room counts its changes and tells them to its members; nobody in it, nothing is kept of it, but the
 * counter of all rooms never goes back.
 */
export class Rooms {
  readonly #service: Service;
  readonly #rooms = new Map<string, Room>();
  /** what each site's head last said */
  readonly #heads = new Map<string, string>();
  readonly #configured = new Map<string, number>();
  #counted = 0;

  constructor(service: Service) {
    this.#service = service;
  }

  get load(): { readonly rooms: number; readonly members: number } {
    const rooms = [...this.#rooms.values()];
    return { rooms: rooms.length, members: rooms.reduce((sum, { members }) => sum + members.size, 0) };
  }

  revisionOf(name: string): number {
    return this.#rooms.get(name)?.revision ?? this.#counted;
  }

  /** Answers the room's counter once everything after it will be told. `setup`: of the room's site. */
  async enter(
    name: string,
    setup: Setup | null,
    member: { id: string; line: Line; serverTime: () => string; sites: Sites },
  ): Promise<number> {
    const room = this.#rooms.get(name) ?? this.#open(name, setup?.id ?? null);
    // from here on its samples are told: whoever fetches after the answer misses none
    if (setup) await this.#giveSamples(setup);
    if (this.#rooms.get(name) !== room) return this.enter(name, setup, member); // its last member left meanwhile
    const { epoch } = this.#service;
    const place = {
      epoch,
      revision: () => room.revision,
      serverTime: member.serverTime,
      site: room.site,
      sites: member.sites,
    };
    room.members.set(member.id, new Member(member.line, place));
    return room.revision;
  }

  leave(name: string, id: string): void {
    const room = this.#rooms.get(name);
    room?.members.get(id)?.leave();
    room?.members.delete(id);
    if (room?.members.size === 0) this.#rooms.delete(name);
  }

  /** The member's line has drained. */
  hurry(name: string, id: string): void {
    this.#rooms.get(name)?.members.get(id)?.hurry();
  }

  async give(change: Change): Promise<void> {
    if (change.overrun) for (const room of this.#rooms.values()) this.#skip(room);
    for (const setup of change.setups) this.#noteConfiguration(setup);
    for (const [site, one] of siteChanges(change, this.#heads, this.#service.now())) {
      this.#tell(`site:${site}`, one, site);
      this.#tell('board', one, site);
    }
    for (const setup of change.setups) await this.#giveSamples(setup);
  }

  #open(name: string, site: string | null): Room {
    const samples = site === null ? null : newSamples(this.#service.database);
    const room: Room = { revision: ++this.#counted, members: new Map(), site, samples };
    this.#rooms.set(name, room);
    return room;
  }

  #tell(name: string, change: RoomChange, site: string): void {
    const room = this.#rooms.get(name);
    if (!room) return;
    this.#count(room);
    for (const member of room.members.values()) if (member.sees(site)) member.add(change);
  }

  /** Its members can't be brought up to date by frames: they fetch again. */
  #skip(room: Room): void {
    this.#count(room);
    for (const member of room.members.values()) member.overrun();
  }

  #count(room: Room): void {
    room.revision++;
    this.#counted = Math.max(this.#counted, room.revision);
  }

  /** Another configuration changes more than parts: whoever looks at the site fetches it again. */
  #noteConfiguration({ id, revision }: Setup): void {
    const before = this.#configured.get(id);
    this.#configured.set(id, revision);
    if (before === revision || before === undefined) return;
    for (const name of [`site:${id}`, 'board']) {
      const room = this.#rooms.get(name);
      if (room) this.#skip(room);
    }
  }

  async #giveSamples(setup: Setup): Promise<void> {
    const name = `site:${setup.id}`;
    const samples = (await this.#rooms.get(name)?.samples?.read(setup, this.#service.now())) ?? [];
    const change = { parts: [], events: [], withdrawn: [], samples, alarms: [] };
    if (samples.length > 0) this.#tell(name, change, setup.id);
  }
}

interface Room {
  revision: number;
  readonly members: Map<string, Member>;
  readonly site: string | null;
  readonly samples: NewSamples | null;
}
