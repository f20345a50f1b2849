import type { Instant } from '../../shared/base/instant.ts';
import { contextOf } from '../../shared/inference/sources.ts';
import type { Subject } from '../../shared/inference/event.ts';
import type { Fold, FoldContext } from '../../shared/inference/fold.ts';
import { BEGINNING } from '../../shared/inference/driver.ts';
import { TAIL_BOUND } from '../../shared/inference/horizon.ts';
import { readMembersKnown, type Clocks, type DueSubject } from '../../db/follow-work.ts';
import type { Queries } from '../../db/pool.ts';
import { readRecord, recordSources, type RecordSource, type RecordStretch } from '../../db/record.ts';
import type { Lives } from '../../db/follow-states.ts';
import { correctClocks, lifeOf, nowOf } from './clocks.ts';
import type { Snapshot } from './given.ts';
import type { Setup } from './setup.ts';

/** The folds, by what they fold. */
// eslint-disable-next-line @typescript-eslint/no-explicit-any
export type Folds = Readonly<Partial<Record<Subject['kind'], Fold<any>>>>;

/** All that a step of one subject leans on, read from one snapshot. */
export interface Material {
  readonly fold: Fold<unknown>;
  readonly setup: Setup;
  readonly context: FoldContext;
  readonly sources: readonly RecordSource[];
  readonly clocks: Clocks;
  /** the fold's now; null: nothing was ever heard */
  readonly now: Instant | null;
  /** through when every member that isn't unknown is known; Infinity where there are none */
  readonly membersHorizon: Instant;
  /** the newest life of each of its gateways */
  readonly lives: Lives;
}

export async function readMaterial(
  queries: Queries,
  subject: DueSubject,
  folds: Folds,
  snapshot: Snapshot,
): Promise<Material | null> {
  const fold = folds[subject.kind] as Fold<unknown> | undefined;
  const setup = await snapshot.setup(subject.site);
  if (!fold || !setup || setup.history.length === 0) return null;
  const { kind, site, device } = subject;
  const members = await knownMembers(queries, subject);
  const watch = await snapshot.watch();
  const clocks = correctClocks(await snapshot.clocks(site), () => setup.history);
  const context = {
    ...contextOf(setup.history, { kind, site, device }, watch, members.through),
    counted: countedOf(clocks, site),
  };
  return {
    fold,
    setup,
    context,
    sources: recordSources(setup.history, context.sources, setup.ids),
    clocks,
    now: nowOf(clocks, site),
    membersHorizon: members.horizon,
    lives: livesOf(context, clocks),
  };
}

/** Just before a gateway's newest life that counts: more of that instant may come right behind it. */
function countedOf({ lives, isShared }: Clocks, site: string): Readonly<Record<string, Instant>> | null {
  if (!isShared) return null;
  return Object.fromEntries(
    lives.filter((life) => life.site === site).map(({ gateway, t }) => [gateway, Math.max(BEGINNING, t - 1)]),
  );
}

/**
 * What the fold of such a stretch may lean on. Where an ingest is away for long and more than TAIL_BOUND rows wait for it,
 * it isn't waited for any longer, as for a signal that is far behind: what it holds rewinds when it comes. What has been
 * taken already stays taken.
 */
export function contextFor(
  { context, clocks }: Material,
  stretch: RecordStretch,
  through: Instant,
): FoldContext {
  const { counted, subject, sources } = context;
  if (!counted) return context;
  const names = new Set(sources.map(({ kind, device }) => (kind === 'life' ? device : null)));
  const held = clocks.lives.filter(
    ({ site, gateway, isHeld }) => isHeld && site === subject.site && names.has(gateway),
  );
  const least = held.reduce((a, { t }) => Math.min(a, t), Infinity);
  const { t, length } = stretch.page;
  if (length > TAIL_BOUND && t[length - 1 - TAIL_BOUND]! > least) return { ...context, counted: null };
  const atLeast = Object.entries(counted).map(([gateway, at]) => [gateway, Math.max(at, through)] as const);
  return { ...context, counted: Object.fromEntries(atLeast) };
}

const livesOf = ({ sources, subject }: FoldContext, clocks: Clocks): Lives =>
  Object.fromEntries(
    sources
      .filter(({ kind }) => kind === 'life')
      .map(({ device }): [string, Instant | null] => [device, lifeOf(clocks, subject.site, device)]),
  );

/** A member that was never folded may still have everything to say; one that is unknown isn't waited for. */
async function knownMembers(queries: Queries, subject: DueSubject) {
  if (subject.kind !== 'panel' && subject.kind !== 'space') return { through: {}, horizon: Infinity };
  const { members, horizon } = await readMembersKnown(queries, subject.id);
  const through = members.map(({ device, folded, knownThrough }): [string, Instant | null] => [
    device,
    folded ? knownThrough && Math.max(knownThrough, BEGINNING) : BEGINNING,
  ]);
  return { through: Object.fromEntries(through), horizon };
}

export const readStretch = (
  queries: Queries,
  material: Material,
  after: Instant,
  rows: number,
): Promise<RecordStretch> => readRecord(queries, material.sources, after, rows);
