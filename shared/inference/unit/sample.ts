import type { Instant } from '../../base/instant.ts';
import { BAD, isGood } from '../../telemetry/sample.ts';
import { takeOnChange, takePolled, type Edge } from '../track.ts';
import type { Belief, Queued } from './belief.ts';
import { takeAir } from './weak-cooling.ts';
import { ROLES, type Role, type Wire } from './wiring.ts';

/** From samples to edges that wait to be decided. Nearly every row of a record ends here, so it makes no garbage. */

/**
 * A good sample that is the same to every track as what they have: only its time is new. Most of a record is this, a
 * control voltage that is well.
 */
export function tookCalm(belief: Belief, wire: Wire, t: Instant, raw: number, quality: number): boolean {
  const { isCalm, point, roles } = wire;
  if (isCalm === null || !isGood(quality)) return false;
  const value = raw * point.scale + point.offset;
  const seen = belief.seen[wire.signal];
  if (seen === undefined || seen.raw === null || seen.value === null) return false;
  if (!isCalm(value) || !isCalm(seen.value)) return false;
  for (let i = 0; i < roles.length; i++) if (belief.tracks[roles[i]!.role].raw === null) return false;
  for (let i = 0; i < roles.length; i++) belief.tracks[roles[i]!.role].good = t;
  seen.t = t;
  if (seen.raw !== raw) {
    seen.raw = raw;
    seen.value = value;
  }
  return true;
}

export function takeSample(belief: Belief, wire: Wire, t: Instant, raw: number, quality: number): void {
  const { point } = wire;
  const value = raw * point.scale + point.offset;
  const [low, high] = point.range;
  const good = isGood(value < low || value > high ? BAD : quality);
  for (const { role, of } of wire.roles) {
    const track = belief.tracks[role];
    if (wire.doubt !== (track.doubt ?? 0)) track.doubt = wire.doubt;
    if (role === 'air') continue;
    if (good) {
      const next = of(value, track.raw);
      if (next === track.raw) track.good = t;
      else if (wire.onChange)
        enqueue(belief, role, takeOnChange(track, t, next, wire.resolution, wire.debounce, presentOf(wire)));
      else {
        const edge = takePolled(track, t, next);
        if (edge) enqueue(belief, role, [edge]);
      }
    } else if (wire.onChange)
      enqueue(belief, role, takeOnChange(track, t, null, wire.resolution, wire.debounce));
  }
  see(belief, wire, t, raw, value, good);
  const [first] = wire.roles;
  if (first?.role === 'air' && (good || wire.onChange)) enqueue(belief, 'air', takeAir(belief, t, first.of));
}

/** Keeps the newest value, for the page. */
function see(belief: Belief, wire: Wire, t: Instant, raw: number, value: number, good: boolean): void {
  const seen = belief.seen[wire.signal];
  if (seen && !good && !wire.onChange) {
    seen.t = t;
    return;
  }
  const shown = !good ? null : wire.contact ? wire.contact(value) : value;
  if (!seen) belief.seen[wire.signal] = { t, value: shown, raw: good ? raw : null };
  else {
    seen.t = t;
    seen.value = shown;
    seen.raw = good ? raw : null;
  }
}

/** Place in the queue: by latest, then earliest, then the order of causes at one instant. */
export function enqueue(belief: Belief, role: Role, edges: readonly Edge[]): void {
  for (const edge of edges) {
    const item: Queued = { role, edge };
    let i = belief.queue.length;
    while (i > 0 && comesBefore(item, belief.queue[i - 1]!)) i--;
    belief.queue.splice(i, 0, item);
  }
}

const comesBefore = (a: Queued, b: Queued): boolean =>
  (a.edge.latest - b.edge.latest ||
    a.edge.earliest - b.edge.earliest ||
    ROLES.indexOf(a.role) - ROLES.indexOf(b.role)) < 0;

/** What voltage on the input of a contact says; null where the point is no contact. */
const presentOf = ({ contact, point }: Wire): number | null => contact && contact(point.scale + point.offset);
