import { formatInstant, type Instant } from '../base/instant.ts';
import type { Revision, RevisionWhy } from '../inference/revision.ts';
import type { WireRevision } from './event-answer.ts';
import { readInstant, readSpan, wireInstant, wireSpan } from './standing-wire.ts';

/** An event's earlier revisions, to the wire and back. */
export const wireRevision = ({ id, revision, said, saidAt, changedAt, why }: Revision): WireRevision => ({
  id,
  revision,
  said: { ...said, start: wireSpan(said.start)!, end: wireSpan(said.end), pending: [...said.pending] },
  saidAt: formatInstant(saidAt),
  changedAt: formatInstant(changedAt),
  why: wireWhy(why),
});

function wireWhy(why: RevisionWhy): WireRevision['why'] {
  if (why.kind === 'late-data')
    return { ...why, t: wireInstant(why.t), learnedAt: wireInstant(why.learnedAt) };
  return why.kind === 'configuration' ? { ...why, from: wireInstant(why.from) } : why;
}

export const readRevision = (wire: WireRevision): Revision => ({
  ...wire,
  said: { ...wire.said, start: readSpan(wire.said.start)!, end: readSpan(wire.said.end) },
  saidAt: readInstant(wire.saidAt),
  changedAt: readInstant(wire.changedAt),
  why: readWhy(wire.why),
});

const instant = (text: string | null | undefined): Instant | null => (text ? readInstant(text) : null);

function readWhy({ kind, ...why }: WireRevision['why']): RevisionWhy {
  switch (kind) {
    case 'late-data':
      return {
        kind,
        gateway: why.gateway ?? null,
        device: why.device ?? null,
        signal: why.signal ?? null,
        t: instant(why.t),
        learnedAt: instant(why.learnedAt),
      };
    case 'configuration':
      return { kind, from: instant(why.from) };
    default:
      return { kind };
  }
}
