import { readProof, readProofs, type ProofSessionRow } from '../../db/proofs.ts';
import type { Queries } from '../../db/pool.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { clockText } from '../../shared/people/wall-time.ts';
import { seenByItself } from '../../shared/proof/nature.ts';
import { SAFE_SENSING } from '../../shared/proof/safe-sensing.ts';
import { siteAt, type Site } from '../../shared/telemetry/site.ts';
import { CAUTIONS } from '../../shared/wire/first-checks.ts';
import type {
  ProofAnswer,
  ProofRecord,
  ProofRecordAnswer,
  ProofSessionAnswer,
} from '../../shared/wire/proof-answer.ts';
import { differenceTexts } from '../../shared/wire/proof-wire.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import type { Setup } from '../follow/setup.ts';
import { endOf, readJudged, readShown } from './read-proof.ts';

/** What the page of a site’s proof is given, and one record. */
const RECORDS = 20;
const A_YEAR = seconds(365 * 86_400);

export async function readProofPage(queries: Queries, setup: Setup, now: Instant): Promise<ProofAnswer> {
  const site = siteAt(setup.history, now)!;
  const rows = await readProofs(queries, setup.id, RECORDS + 1);
  const open = rows.find(({ endedAt }) => endedAt === null) ?? null;
  const ended = rows.filter((row) => row.endedAt !== null).slice(0, RECORDS);
  const judged = open && (await readJudged(queries, setup, open, now));
  const last = ended[0] ?? null;
  return {
    serverTime: wireInstant(now)!,
    site: wireSite(site),
    units: site.units.map((unit) => ({
      id: unit.id,
      name: unit.name,
      hasAlarmWire: unit.points.some(
        ({ signal, contact }) => signal === 'lockout-alarm' && contact === 'normally-closed',
      ),
    })),
    names: namesOf(site),
    rules: [...SAFE_SENSING],
    cautions: [...CAUTIONS],
    session: open && wireSession(open),
    now: judged && judged.record,
    records: ended.map((row) => ({
      ...wireSession(row),
      says: recordOf(row)?.says ?? 'Being put together.',
      mayLeave: recordOf(row)?.mayLeave ?? false,
    })),
    dueAt: last && wireInstant(last.endedAt! + A_YEAR),
  };
}

const wireSite = ({ id, name, timeZone }: Site) => ({ id, name: name || id, timeZone });

const namesOf = (site: Site): Record<string, string> =>
  Object.fromEntries([
    ['site', site.name || site.id],
    ...[...site.units, ...site.panels, ...site.spaces].map(({ id, name }) => [id, name || id] as const),
  ]);

const wireSession = (row: ProofSessionRow): ProofSessionAnswer => ({
  id: row.id,
  from: wireInstant(row.from)!,
  to: wireInstant(endOf(row))!,
  isOpen: row.endedAt === null,
  by: row.by,
});

/** Written by this server in the form of `ProofRecord`, and by nobody else. */
const recordOf = ({ record }: ProofSessionRow): ProofRecord | null => record as ProofRecord | null;

/** Null: there is no such session, or it is still open. */
export async function readProofRecord(
  queries: Queries,
  setup: Setup,
  id: string,
  now: Instant,
): Promise<ProofRecordAnswer | null> {
  const row = await readProof(queries, setup.id, id);
  if (!row || row.endedAt === null) return null;
  const site = siteAt(setup.history, endOf(row))!;
  const record = recordOf(row) ?? (await readJudged(queries, setup, row, now)).record;
  const names = namesOf(site);
  const before = (await readProofs(queries, setup.id, RECORDS)).find(
    (one) => one.from < row.from && one.record !== null,
  );
  const seen = seenByItself(record.items, await readShown(queries, setup.id, endOf(row), now));
  return {
    session: wireSession(row),
    site: wireSite(site),
    names,
    record,
    seenSince: seen.map(({ key, kind, at }) => ({
      key,
      says: `${kind.replaceAll('-', ' ')} ${clockText(at, site.timeZone)}`,
      at: wireInstant(at)!,
    })),
    differences: before
      ? differenceTexts(recordOf(before)!.items, record.items, (device) => names[device] ?? device)
      : null,
  };
}
