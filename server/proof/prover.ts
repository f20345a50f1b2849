import {
  addProofTick,
  endProof,
  keepProofRecord,
  readProofTicks,
  readWatchedProofs,
  type ProofSessionRow,
} from '../../db/proofs.ts';
import type { Database, Queries } from '../../db/pool.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { LONGEST_SESSION } from '../../shared/proof/session.ts';
import { readInstant } from '../../shared/wire/standing-wire.ts';
import type { Setups } from '../follow/setup.ts';
import { makeBell, rest } from '../bell.ts';
import { inSnapshot } from '../status/read-status.ts';
import { AMENDED_FOR, readJudged } from './read-proof.ts';

/**
 * Looks after proof sessions while no page is open: ticks off what has become known, with when that was; ends a session after
 * eight hours; keeps its record, and amends that for a day as late data come in. Any number of these may share a database: the
 * first tick counts, and a record says the same whoever writes it.
 */
export interface ProverOptions {
  readonly database: Database;
  readonly setups: Setups;
  /** µs */
  readonly now: () => Instant;
  readonly failed: (error: unknown) => void;
}

const EVERY_MS = 2_000;
/** of its time, so much is spent looking at most */
const SHARE = 0.1;

export interface Prover {
  nudge(): void;
  stop(): Promise<void>;
}

export function startProver(options: ProverOptions): Prover {
  const stopping = new AbortController();
  const bell = makeBell(stopping.signal);
  const run = async (): Promise<void> => {
    while (!stopping.signal.aborted) {
      const rung = bell.next();
      const began = performance.now();
      await lookAfter(options).catch((error: unknown) => options.failed(error));
      await rest(Math.max(EVERY_MS, (performance.now() - began) / SHARE), rung);
    }
  };
  const running = run();
  return {
    nudge: () => bell.ring(),
    stop() {
      stopping.abort();
      return running;
    },
  };
}

async function lookAfter(options: ProverOptions): Promise<void> {
  const { database, now } = options;
  for (const session of await readWatchedProofs(database, now() - AMENDED_FOR)) {
    const latest = session.from + LONGEST_SESSION;
    if (session.endedAt === null && now() >= latest) await endProof(database, session.id, latest);
    else await lookAtOne(options, session);
  }
}

async function lookAtOne({ database, setups, now }: ProverOptions, session: ProofSessionRow): Promise<void> {
  const at = now();
  const seen = await inSnapshot(database, async (queries) => {
    const setup = await setups.read(queries, session.site);
    return (
      setup && {
        ...(await readJudged(queries, setup, session, at)),
        ticks: await readProofTicks(queries, session.id),
      }
    );
  });
  if (!seen) return;
  const known = new Set(seen.ticks.map(({ item }) => item));
  const fresh = seen.record.items.filter(({ key, at: shown }) => shown !== null && !known.has(key));
  const isOther = session.endedAt !== null && JSON.stringify(seen.record) !== JSON.stringify(session.record);
  if (fresh.length === 0 && !isOther) return;
  await database.transaction({ name: 'prove' }, async (queries: Queries) => {
    for (const { key, at: shown } of fresh)
      await addProofTick(queries, session.id, { item: key, happenedAt: readInstant(shown!), arrivedAt: at });
    if (isOther) await keepProofRecord(queries, session.id, seen.record, at);
  });
}
