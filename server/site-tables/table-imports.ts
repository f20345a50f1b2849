import { randomUUID } from 'node:crypto';
import { setImmediate as breathe } from 'node:timers/promises';
import { putSeenSites } from '../../db/sites.ts';
import { differences } from '../../shared/edit/differences.ts';
import { importSites, sitesIn, type ImportedSite, type SiteImport } from '../../shared/edit/import-sites.ts';
import type { TableFault, TableFile } from '../../shared/edit/read-tables.ts';
import { entriesAt } from '../../shared/edit/change.ts';
import { isInScope, type Actor } from '../../shared/wire/may.ts';
import type { SiteTablesAnswer } from '../../shared/wire/site-tables.ts';
import { meetsSounder } from '../../shared/wire/sounder-topics.ts';
import { Refusal } from '../http/refusal.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';

/**
 * Imports of sites from tables: one at a time in this process, each checked whole, then written in one transaction: all of its
 * sites or none. Their answers are kept for a while, so that whoever asked can look how far it is and what came of it.
 */
export interface TableImports {
  /** refused where one is under way already */
  ask(asked: {
    readonly files: readonly TableFile[];
    readonly dryRun: boolean;
    readonly actor: Actor;
  }): SiteTablesAnswer;
  /** null: there is none of that id, or not of that person’s */
  read(id: string, actor: Actor): SiteTablesAnswer | null;
}

const KEPT = 16;
const MOST_TOLD = 5000;
const MOST_SITES = 5000;

interface Import {
  answer: SiteTablesAnswer;
  readonly actor: Actor;
}

export function makeTableImports(service: Service): TableImports {
  const imports = new Map<string, Import>();
  const isBusy = () =>
    [...imports.values()].some(({ answer }) => answer.state === 'checking' || answer.state === 'saving');
  return {
    ask({ files, dryRun, actor }) {
      if (isBusy()) throw new Refusal('not-now', 'Another import is under way: try again when it is done.');
      const id = randomUUID();
      const begun: Import = { actor, answer: { ...NOTHING, id, dryRun } };
      imports.set(id, begun);
      for (const old of [...imports.keys()].slice(0, -KEPT)) imports.delete(old);
      void run(service, begun, files);
      return begun.answer;
    },
    read: (id, actor) => {
      const found = imports.get(id);
      return found && found.actor.kind === actor.kind && found.actor.id === actor.id ? found.answer : null;
    },
  };
}

const NOTHING = {
  state: 'checking',
  done: 0,
  of: 0,
  rows: 0,
  sites: [],
  faults: [],
  faultCount: 0,
  says: null,
} as const satisfies Partial<SiteTablesAnswer>;

async function run(service: Service, one: Import, files: readonly TableFile[]): Promise<void> {
  const say = (more: Partial<SiteTablesAnswer>) => (one.answer = { ...one.answer, ...more });
  try {
    await breathe();
    const checked = await check(service, one.actor, files);
    const { read, faults } = checked;
    const told = { rows: read.rows, faults: faults.slice(0, MOST_TOLD), faultCount: faults.length };
    say({
      ...told,
      of: read.sites.length,
      sites: read.sites.slice(0, MOST_SITES).map(siteLine(checked.current)),
    });
    if (faults.length > 0) return void say({ state: 'refused' });
    if (one.answer.dryRun) return void say({ state: 'done', done: read.sites.length });
    say({ state: 'saving' });
    const stale = await save(service, one.actor, checked, (done) => say({ done }));
    if (stale !== null)
      return void say({
        state: 'failed',
        done: 0,
        says: `${stale} was saved by somebody else meanwhile: nothing is taken in. Try again.`,
      });
    service.follower?.nudge();
    say({ state: 'done' });
  } catch (error) {
    say({
      state: 'failed',
      done: 0,
      says: `Nothing is taken in: ${error instanceof Error ? error.message : String(error)}`,
    });
  }
}

interface Known {
  readonly document: unknown;
  readonly revision: number;
}

interface Checked {
  readonly read: SiteImport;
  readonly faults: readonly TableFault[];
  readonly current: ReadonlyMap<string, Known>;
}

/** A site out of scope is told as one that may not be changed, whether it exists or not. */
async function check(service: Service, actor: Actor, files: readonly TableFile[]): Promise<Checked> {
  const current = new Map<string, Known>();
  const named = sitesIn(files).filter((site) => isInScope(actor.sites, site));
  const setups = await inSnapshot(service.database, (queries) =>
    service.setups.readMany(queries, '', named.length, named),
  );
  const now = service.now();
  for (const { id, revision, documents } of setups) {
    const holding = documents.findLast(({ from }) => from <= now) ?? documents[0]!;
    current.set(id, { document: holding.document, revision });
  }
  const read = importSites(files, (site) => current.get(site)?.document ?? null);
  const others = read.sites.flatMap((one) => refusals(service, actor, one, read));
  return { read, faults: [...read.faults, ...others], current };
}

function refusals(
  service: Service,
  { sites }: Actor,
  { site, document }: ImportedSite,
  read: SiteImport,
): TableFault[] {
  const at = {
    file: read.firstRows.get(site)?.file ?? '',
    row: read.firstRows.get(site)?.row ?? 1,
    column: 'site',
  };
  if (!isInScope(sites, site)) return [{ ...at, message: `You may not change “${site}”.` }];
  const met =
    service.sounderRoot === null || document === null ? null : meetsSounder(service.sounderRoot, document);
  if (met === null) return [];
  return [
    {
      ...at,
      message: `A point of ${site} listens to ${met}: topics under ${service.sounderRoot} are those of stack lights.`,
    },
  ];
}

const siteLine =
  (current: ReadonlyMap<string, Known>) =>
  ({ site, document, isNew }: ImportedSite) => ({
    site,
    isNew,
    units: entriesAt(document, ['units']).length,
    changes: document === null ? 0 : differences(current.get(site)?.document ?? {}, document).length,
  });

/** The site that has changed since it was checked; null: all is written. Sites that come out as they are aren’t saved again. */
function save(
  service: Service,
  actor: Actor,
  { read, current }: Checked,
  saved: (count: number) => void,
): Promise<string | null> {
  const now = service.now();
  const changes = read.sites
    .filter(({ site, document }) => differences(current.get(site)?.document ?? {}, document).length > 0)
    .map(({ site, document }) => ({
      site,
      document,
      from: null,
      now,
      by: actor.name,
      seen: current.get(site)?.revision ?? 0,
    }));
  return putSeenSites(service.database, changes, saved);
}
