import type { Instant } from '../shared/base/instant.ts';
import type { RevisionWhy } from '../shared/inference/revision.ts';
import { clockShifts, earliestBy } from '../shared/telemetry/clock-shifts.ts';
import { holdConfiguration } from './configuration-lock.ts';
import { statement, type Database, type Queries } from './pool.ts';
import { readDocuments, readSiteRevision, type DatedDocument } from './read-history.ts';
import { historyOf } from './site-history.ts';
import { noteSaves } from './site-saves.ts';
import { writeSubjects } from './subjects.ts';
import { timeParameter } from './values.ts';

/**
 * Configuration as history. A document holds from its instant on: what was stored for later instants gives way to it,
 * so that reading back what was put gives what was put (`always` corrects a record that was wrong everywhere). Time
 * before `from` keeps its documents and isn't inferred again.
 */
export interface SiteChange {
  readonly site: string;
  /** one that `parseConfiguration` accepts */
  readonly document: unknown;
  /** -Infinity: always; null: unsaid, which is `always` for a first document and `now` for a later one */
  readonly from: Instant | null;
  readonly now: Instant;
  /** who put it, for the record */
  readonly by: string;
}

export interface SiteChanged {
  readonly created: boolean;
  readonly revision: number;
  readonly from: Instant;
}

export function putSite(database: Database, change: SiteChange): Promise<SiteChanged> {
  return database.transaction({ name: 'put-site' }, async (queries) => {
    await holdConfiguration(queries);
    return putHeld(queries, change);
  });
}

/** The same for somebody who has seen the site at a revision (0: there was none). Null: it has changed since. */
export function putSeenSite(
  database: Database,
  change: SiteChange,
  seen: number,
): Promise<SiteChanged | null> {
  return database.transaction({ name: 'put-site' }, async (queries) => {
    await holdConfiguration(queries);
    if (((await readSiteRevision(queries, change.site)) ?? 0) !== seen) return null;
    return putHeld(queries, change);
  });
}

/**
 * Several sites in one transaction: all of them, or none. `saved` is told after each how many are written; whatever it throws
 * takes everything back. A site that has changed since it was seen, by its id: nothing is written.
 */
export function putSeenSites(
  database: Database,
  changes: readonly (SiteChange & { readonly seen: number })[],
  saved: (count: number) => void,
): Promise<string | null> {
  return database.transaction({ name: 'put-sites' }, async (queries) => {
    await holdConfiguration(queries);
    for (const { site, seen } of changes)
      if (((await readSiteRevision(queries, site)) ?? 0) !== seen) return site;
    for (const [i, change] of changes.entries()) {
      await putHeld(queries, change);
      saved(i + 1);
    }
    return null;
  });
}

async function putHeld(queries: Queries, change: SiteChange): Promise<SiteChanged> {
  const before = await readDocuments(queries, change.site);
  const from = change.from ?? (before.length === 0 ? -Infinity : change.now);
  return rewrite(queries, change, { before, from, documents: [{ from, document: change.document }] });
}

/**
 * Changes one thing of what is recorded from an instant on: in the document that holds there, which from then on is another,
 * and in every later one. To be asked in a transaction. Null: there is no such site.
 */
export async function amendSite(
  queries: Queries,
  change: Omit<SiteChange, 'document' | 'from'> & { readonly from: Instant },
  amend: (document: unknown) => unknown,
): Promise<SiteChanged | null> {
  await holdConfiguration(queries);
  const { from } = change;
  const before = await readDocuments(queries, change.site);
  const holding = before.findLast((one) => one.from <= from) ?? before[0];
  if (!holding) return null;
  const documents = [
    { from, document: amend(holding.document) },
    ...before
      .filter((one) => one.from > from)
      .map((one) => ({ from: one.from, document: amend(one.document) })),
  ];
  return rewrite(queries, change, { before, from, documents });
}

/** Puts these in the place of every document from `from` on. */
async function rewrite(
  queries: Queries,
  change: Pick<SiteChange, 'site' | 'by'>,
  {
    before,
    from,
    documents,
  }: { before: readonly DatedDocument[]; from: Instant; documents: readonly DatedDocument[] },
): Promise<SiteChanged> {
  const whole = [...before.filter((one) => one.from < from), ...documents];
  const history = historyOf(change.site, whole); // refuses before anything is written
  const revision = await raiseRevision(queries);
  await writeDocuments(queries, change, { from, documents, revision });
  await writeSubjects(queries, change.site, history);
  await inferAgain(queries, change.site, { from, early: earliestOf(change.site, before) });
  await announce(queries);
  return { created: before.length === 0, revision, from };
}

/** Removes a site and everything inferred about it; its samples become unreachable. False: there is no such site. */
export function deleteSite(database: Database, site: string): Promise<boolean> {
  return database.transaction({ name: 'delete-site' }, async (queries) => {
    await holdConfiguration(queries);
    return deleteHeld(queries, site);
  });
}

/** Within a transaction that holds the configuration. */
export async function deleteHeld(queries: Queries, site: string): Promise<boolean> {
  if ((await queries.run(DELETE_SITE, [site])) === 0) return false;
  await raiseRevision(queries);
  await queries.run(DELETE_LIVES, [site]);
  await announce(queries);
  return true;
}

const RAISE = statement(
  'configuration-raise',
  'update configuration set revision = revision + 1 returning revision',
);
const DELETE_SITE = statement('site-delete', 'delete from sites where id = $1');
const DELETE_LIVES = statement('site-delete-lives', 'delete from gateway_lives where site = $1');
const PUT_SITE = statement(
  'site-put',
  `insert into sites (id, revision) values ($1, $2)
   on conflict (id) do update set revision = excluded.revision`,
);
const GIVE_WAY = statement(
  'documents-give-way',
  'delete from site_documents where site = $1 and from_at >= $2',
);
const PUT_DOCUMENT = statement(
  'document-put',
  'insert into site_documents (site, from_at, document, put_by) values ($1, $2, $3, $4)',
);
const INFER_AGAIN = statement(
  'site-infer-again',
  'insert into work_items (subject_id, earliest, because) select id, $2, $3::jsonb from subjects where site = $1',
);
const ANNOUNCE = statement('announce-committed', "select pg_notify('holdoff_committed', '')");

/** Within a transaction that holds the configuration. */
export const raiseRevision = async (queries: Queries): Promise<number> =>
  (await queries.one<{ revision: number }>(RAISE)).revision;

async function writeDocuments(
  queries: Queries,
  { site, by }: Pick<SiteChange, 'site' | 'by'>,
  {
    from,
    documents,
    revision,
  }: { readonly from: Instant; readonly documents: readonly DatedDocument[]; readonly revision: number },
): Promise<void> {
  await queries.run(PUT_SITE, [site, revision]);
  await queries.run(GIVE_WAY, [site, timeParameter(from)]);
  for (const one of documents)
    await queries.run(PUT_DOCUMENT, [site, timeParameter(one.from), JSON.stringify(one.document), by]);
  await noteSaves(queries, site, revision);
}

/**
 * `early`: by how much the clock offsets that held until now brought claimed times forward: so much before `from` a fold
 * may have taken what was claimed after it.
 */
const inferAgain = (
  queries: Queries,
  site: string,
  { from, early }: { readonly from: Instant; readonly early: number },
): Promise<number> => {
  const because: RevisionWhy = { kind: 'configuration', from: Number.isFinite(from) ? from : null };
  return queries.run(INFER_AGAIN, [site, timeParameter(from - early), JSON.stringify(because)]);
};

function earliestOf(site: string, documents: readonly DatedDocument[]): number {
  const history = historyOf(site, documents);
  const gateways = new Set(history.flatMap((version) => version.site.gateways.map(({ id }) => id)));
  return [...gateways].reduce(
    (most, id) => Math.max(most, earliestBy(clockShifts(history, `${id}/life`))),
    0,
  );
}

/** To every server and ingest, when the transaction commits: something is there to be read. */
export const announce = async (queries: Queries): Promise<void> => {
  await queries.run(ANNOUNCE);
};
