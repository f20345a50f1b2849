import fc from 'fast-check';
import { expect, it } from 'vitest';
import type { Instant } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { foldSiteOnce } from '../fixtures/fold-site.ts';
import { LittleSite } from '../fixtures/little-site.ts';
import { comparable } from '../fixtures/little-store.ts';
import { smallSite, watchedBy, type Sent, type SmallSite } from '../fixtures/small-sites.ts';
import { takenBack } from '../fixtures/taken-back.ts';

/**
 * Several ingests share the messages (architecture 6): each message goes to one of them, and each commits in its own time, or
 * is away for a while. What a gateway tells counts when all of them have committed what they had received by then. Then
 * nothing certain is ever taken back, though messages of one gateway are committed in any order, and the events are those of
 * fold(sorted, once). That the counting is what does it is shown by leaving it out.
 */
const CASES = Number(process.env['SHARED_LIVES_CASES'] ?? 20);

const sharing = fc.record({
  ingests: fc.integer({ min: 2, max: 3 }),
  /** to whom the broker gives the messages, one after the other, again and again */
  given: fc.array(fc.nat(2), { minLength: 1, maxLength: 12 }),
  /** who commits next, and how many messages */
  commits: fc.array(
    fc.tuple(
      fc.nat(2),
      fc.oneof(fc.integer({ min: 1, max: 4 }), fc.integer({ min: 20, max: 150 }), fc.constant(0)),
    ),
    { minLength: 3, maxLength: 12 },
  ),
});
type Sharing = typeof sharing extends fc.Arbitrary<infer T> ? T : never;

/** One ingest's messages by their places among all, and how many of them are committed. */
interface Member {
  readonly places: readonly number[];
  committed: number;
}

/** The messages are received in order of time; each step commits some of one ingest's. */
function* committing(small: SmallSite, { ingests, given, commits }: Sharing) {
  const sent = [...small.sent].sort((a, b) => a.t - b.t);
  const members = Array.from({ length: ingests }, (_, who): Member => {
    const places = [...sent.keys()].filter((place) => given[place % given.length]! % ingests === who);
    return { places, committed: 0 };
  });
  for (let n = 0; members.some(isBehind); n++) {
    const [who, many] = commits[n % commits.length]!;
    // whoever is away comes back in the end
    const member = n > 400 ? members.find(isBehind)! : members[who % ingests]!;
    const places = member.places.slice(member.committed, (member.committed += n > 400 ? 500 : many));
    member.committed = Math.min(member.committed, member.places.length);
    if (places.length === 0) continue;
    const through = Math.min(...members.map((one) => one.places[one.committed] ?? sent.length));
    yield { came: places.map((place) => sent[place]!), counts: sent.slice(0, through), next: sent[through] };
  }
}

const isBehind = ({ places, committed }: Member): boolean => committed < places.length;

/** Just before the newest life of each gateway that counts (server/follow/material.ts). */
function countedBy(counts: readonly Sent[]): Record<string, Instant> {
  const counted: Record<string, Instant> = {};
  for (const { rows, gateway } of counts)
    for (const { key, t } of rows)
      if (key.endsWith('/life')) counted[gateway] = Math.max(counted[gateway] ?? -Infinity, t - 1);
  return counted;
}

/** Events that were certain at a step and aren't at a later one. */
function back(small: SmallSite, how: Sharing, isCounting: boolean): EventDraft[] {
  const site = new LittleSite(small.history);
  const certain = new Map<string, EventDraft>();
  const gone: EventDraft[] = [];
  for (const { came, counts, next } of committing(small, how)) {
    site.commit(came.flatMap(({ rows }) => rows));
    if (isCounting) site.countThrough(countedBy(counts));
    site.watchThrough(watchedBy(small.watch, (next?.t ?? Infinity) - 1));
    site.stepAll();
    const now = site.events();
    gone.push(...takenBack(certain, now));
    for (const event of now)
      if (event.certainty === 'certain' || event.causeCertainty === 'certain') certain.set(event.id, event);
  }
  site.countThrough(null); // a single one is left
  site.watchThrough(small.watch);
  site.stepAll();
  gone.push(...takenBack(certain, site.events()));
  const once = foldSiteOnce({ history: small.history, rows: site.record(), watch: small.watch });
  expect(comparable(site.events())).toEqual(comparable(once));
  return gone;
}

/** A change of the configuration that is dated into what hasn't come yet lets points be known too far (fold-order-site). */
const unchanged = smallSite.filter(({ history }) => history.length === 1);

it(
  `takes nothing certain back, whoever of several ingests commits first (${CASES} cases)`,
  { timeout: 600_000 },
  () => {
    let others = 0;
    fc.assert(
      fc.property(unchanged, sharing, (small, how) => {
        expect(back(small, how, true)).toEqual([]);
        if (others === 0) others += back(small, how, false).length;
      }),
      { numRuns: CASES },
    );
    console.log(`${CASES} cases; taken back without counting, in the first case that did: ${others}`);
    expect(others).toBeGreaterThan(0);
  },
);
