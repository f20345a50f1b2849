import { isDeepStrictEqual } from 'node:util';
import type { Database } from '../db/pool.ts';
import { readDocuments } from '../db/read-history.ts';
import { putSite } from '../db/sites.ts';
import { DEMONSTRATION } from './http/site-routes.ts';
import { startDemo, type Demo } from './demo/demo.ts';

export interface DemonstrationOptions {
  readonly brokerUrl: string;
  readonly database: Database;
  readonly notesFile: string;
  readonly say: (line: string) => void;
}

const clock = (): number => Math.round((performance.timeOrigin + performance.now()) * 1000);

/** The simulated school and shelter on this machine's broker. A site that someone has changed since is left as it is. */
export const startDemonstration = ({ database, ...options }: DemonstrationOptions): Promise<Demo> =>
  startDemo({ ...options, now: clock, putSite: (site, document) => putOnce(database, site, document) });

async function putOnce(database: Database, site: string, document: unknown): Promise<{ isNew: boolean }> {
  const before = await readDocuments(database, site);
  const first = before[0]?.document;
  const changed = before.length > 1;
  if (changed || isDeepStrictEqual(first, JSON.parse(JSON.stringify(document)))) return { isNew: false };
  await putSite(database, { site, document, from: -Infinity, now: clock(), by: DEMONSTRATION });
  return { isNew: before.length === 0 };
}
