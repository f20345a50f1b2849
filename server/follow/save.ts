import type { Instant } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { isGrowth, isSaidAlike, saidOf, type RevisionWhy } from '../../shared/inference/revision.ts';
import { edgeAt, type UnitEdge } from '../../shared/inference/edge.ts';
import { addWork, addWorkToFollowers, type DueSubject } from '../../db/follow-work.ts';
import { addCheckpoint, dropCheckpoints, saveState, type FoldedAt } from '../../db/follow-states.ts';
import { dropEdge, putEdge, readDecidedEdges } from '../../db/follow-edges.ts';
import {
  putEvent,
  readDecidedEvents,
  readFrozen,
  settleEvent,
  withdrawEvent,
} from '../../db/follow-events.ts';
import { beginsAnewAt } from '../../db/floor.ts';
import { addDecided, dropRefold, putRefold, readDecided, type Decided } from '../../db/follow-refolds.ts';
import type { Queries } from '../../db/pool.ts';
import { addAlarmWork } from '../../db/alarms.ts';
import { alarmWorkOf } from '../alarms/work.ts';
import { isDue, surplusCheckpoints } from './checkpoint-ages.ts';
import { leastTellingLife, lifeOf } from './clocks.ts';
import { diffEdges } from './diff-edges.ts';
import { placeEdges, type PlacedEdge } from '../../shared/inference/edge-order.ts';
import { diffEvents, type FoldedEvent } from './diff-events.ts';
import type { Given } from './given.ts';
import type { Material } from './material.ts';
import type { FoldRun } from './run-fold.ts';

/** What a step writes, all in the step's transaction: results, and the work that they make for others. */
export interface Saving {
  readonly run: FoldRun;
  /** what the store had before and wasn't decided */
  readonly undecided: Pick<Given, 'events' | 'edges'>;
  /** through when the checkpoints that are kept reach, in rising order */
  readonly kept: readonly Instant[];
  /** what was settled by a row after this is made anew; Infinity: only what wasn't settled */
  readonly since: Instant;
  /** what earlier steps of a generation have decided */
  readonly decided: Decided | 'of-generation';
  readonly keepCheckpoints: boolean;
  /** why events are said otherwise than before */
  readonly why: RevisionWhy;
}

/** The end of the record was reached: everything is known that can be, and a generation takes its place. */
export async function saveReached(
  queries: Queries,
  subject: DueSubject,
  material: Material,
  saving: Saving,
): Promise<void> {
  const { run, since, why, undecided } = saving;
  const swap = saving.decided === 'of-generation';
  const decided = swap ? await readDecided(queries, subject.id) : (saving.decided as Decided);
  if (swap) await dropRefold(queries, subject.id);
  const settled = joined(decided, run.settled);
  const events = [...settled.events.map(settledEvent), ...run.provisional.events.map(openEvent)];
  const anew = await beginsAnewAt(queries, subject.id, since, material.fold.version);
  const how = { since, anew, withdraw: true, why, undecided };
  await saveEvents(queries, subject, events, how);
  const edges = [...settled.edges.map(settledEdge), ...run.provisional.edges.map(openEdge)];
  if (subject.kind === 'unit') await saveEdges(queries, subject, edges, how);
  if (saving.keepCheckpoints) await saveCheckpoints(queries, subject, material, saving);
  await saveState(queries, subject.id, stateOf(material, run));
}

/** The stored state has moved on, but rows are left: what was settled on the way is published, what is open stays. */
export async function saveUnfinished(
  queries: Queries,
  subject: DueSubject,
  material: Material,
  saving: Saving,
  stuck: boolean,
): Promise<void> {
  const { run, why, undecided } = saving;
  const how = { since: Infinity, anew: false, withdraw: false, why, undecided };
  await saveEvents(queries, subject, run.settled.events.map(settledEvent), how);
  if (subject.kind === 'unit') await saveEdges(queries, subject, run.settled.edges.map(settledEdge), how);
  if (saving.keepCheckpoints) await saveCheckpoints(queries, subject, material, saving);
  const waitForMembers = stuck && material.membersHorizon < Infinity ? material.membersHorizon + 1 : null;
  await saveState(queries, subject.id, stateOf(material, run), waitForMembers);
  if (!stuck) await addWork(queries, subject.id, Infinity);
}

/** A generation has grown; nothing of it is published. */
export async function saveGeneration(
  queries: Queries,
  subject: DueSubject,
  material: Material,
  saving: Saving & { readonly base: Instant },
): Promise<void> {
  const { run, base, why } = saving;
  const { through, state } = run.stored;
  const foldVersion = material.fold.version;
  const foldedLives = material.lives;
  await putRefold(queries, subject.id, {
    base,
    foldVersion,
    through,
    state: JSON.stringify(state),
    foldedLives,
    because: why,
  });
  await addDecided(queries, subject.id, run.settled);
  await saveCheckpoints(queries, subject, material, saving);
}

const joined = (a: Decided, b: Decided): Decided => ({
  events: [...a.events, ...b.events],
  edges: [...a.edges, ...b.edges],
});
const settledEvent = ({ event, at }: Decided['events'][number]): FoldedEvent => ({ event, settledAt: at });
const openEvent = (event: FoldedEvent['event']): FoldedEvent => ({ event, settledAt: null });

interface FoldedEdge {
  readonly edge: UnitEdge;
  readonly settledAt: Instant | null;
}
const settledEdge = ({ edge, at }: Decided['edges'][number]): FoldedEdge => ({ edge, settledAt: at });
const openEdge = (edge: UnitEdge): FoldedEdge => ({ edge, settledAt: null });

async function saveEvents(
  queries: Queries,
  subject: DueSubject,
  events: readonly FoldedEvent[],
  { since, anew, withdraw, why, undecided }: Comparing,
): Promise<void> {
  const decided = since < Infinity ? await readDecidedEvents(queries, subject.id, since) : [];
  const standing = [...undecided.events, ...decided];
  const mayChange = anew ? await withoutFrozen(queries, subject, events, since) : events;
  const changes = diffEvents(standing, mayChange, { withdraw });
  for (const { id, replacedBy } of changes.withdrawn) await withdrawEvent(queries, id, replacedBy, why);
  for (const one of changes.added)
    await putEvent(queries, subject.id, one, { replaces: one.replaces, why, keep: false });
  for (const one of changes.amended)
    await putEvent(queries, subject.id, one, { replaces: [], why, keep: isRevised(one, why) });
  for (const one of changes.settled) await settleEvent(queries, one);
  await addAlarmWork(queries, subject.site, alarmWorkOf(changes, standing));
}

interface Comparing {
  /** what was settled by a row after this may have changed */
  readonly since: Instant;
  /** begun with nothing known at the floor: what it says of what was decided there by `since` isn't heard */
  readonly anew: boolean;
  /** what the fold no longer gives is withdrawn */
  readonly withdraw: boolean;
  readonly why: RevisionWhy;
  readonly undecided: Saving['undecided'];
}

/** Would a person ask what it said before? While data come in order, an event that only grows is no news. */
function isRevised({ event, was }: { event: EventDraft; was: EventDraft }, why: RevisionWhy): boolean {
  const [before, now] = [saidOf(was), saidOf(event)];
  if (isSaidAlike(before, now)) return false;
  return why.kind !== 'in-order' || !isGrowth(before, now);
}

async function saveEdges(
  queries: Queries,
  subject: DueSubject,
  edges: readonly FoldedEdge[],
  { since, anew, withdraw, why, undecided }: Comparing,
): Promise<void> {
  const from = edges.reduce((least, { edge }) => Math.min(least, edgeAt(edge)), Infinity);
  const isAsked = since < Infinity || from < Infinity;
  const decided = isAsked ? await readDecidedEdges(queries, subject.id, since, from) : [];
  const before = [...undecided.edges, ...decided];
  const kept = before.filter((one) => staysAsItIs(one, since) || (!withdraw && isLeftOpen(one, edges)));
  const fresh = anew
    ? withoutThose(
        edges,
        kept.filter((one) => staysAsItIs(one, since)),
      )
    : edges;
  const { gone, put, earliest } = diffEdges(before, placeEdges([...kept, ...fresh]));
  for (const one of gone) await dropEdge(queries, subject.id, one);
  for (const one of put) await putEdge(queries, subject.id, one);
  if (earliest !== null) await addWorkToFollowers(queries, subject.id, earliest, why);
}

async function withoutFrozen(
  queries: Queries,
  subject: DueSubject,
  events: readonly FoldedEvent[],
  since: Instant,
): Promise<FoldedEvent[]> {
  const ids = events.map(({ event }) => event.id);
  const frozen = await readFrozen(queries, subject.id, since, ids);
  return events.filter(({ event }) => !frozen.has(event.id));
}

function withoutThose(edges: readonly FoldedEdge[], there: readonly PlacedEdge[]): FoldedEdge[] {
  const names = new Set(there.map(({ edge }) => nameOf(edge)));
  return edges.filter(({ edge }) => !names.has(nameOf(edge)));
}

const nameOf = (edge: UnitEdge): string => `${edge.kind} ${edgeAt(edge)}`;

const staysAsItIs = ({ settledAt }: PlacedEdge, since: Instant): boolean =>
  settledAt !== null && settledAt <= since;

/** Open before, and not what has been settled now. */
const isLeftOpen = ({ settledAt, edge }: PlacedEdge, edges: readonly FoldedEdge[]): boolean =>
  settledAt === null &&
  !edges.some((one) => one.edge.kind === edge.kind && edgeAt(one.edge) === edgeAt(edge));

async function saveCheckpoints(
  queries: Queries,
  subject: DueSubject,
  material: Material,
  { run, kept: throughs }: Saving,
): Promise<void> {
  const made = run.checkpoints.filter(({ through }, i) =>
    isDue(run.checkpoints[i - 1]?.through ?? throughs.at(-1) ?? null, through),
  );
  if (made.length === 0) return;
  const stamp = { configRevision: material.setup.revision, foldVersion: material.fold.version };
  for (const one of made) await addCheckpoint(queries, subject.id, { ...one, ...stamp });
  const all = [...throughs, ...made.map(({ through }) => through)];
  await dropCheckpoints(queries, subject.id, surplusCheckpoints(all, material.now ?? all.at(-1)!));
}

function stateOf(material: Material, run: FoldRun) {
  return {
    configRevision: material.setup.revision,
    foldVersion: material.fold.version,
    through: run.stored.through,
    state: JSON.stringify(run.stored.state),
    standing: run.standing,
    foldedAt: foldedAt(material, run),
  };
}

function foldedAt({ clocks, now, membersHorizon, context, lives }: Material, run: FoldRun): FoldedAt {
  const wake = run.standing?.wakeOnLife ?? null;
  return {
    now: now ?? -Infinity,
    watched: clocks.watched ?? -Infinity,
    life: (wake && lifeOf(clocks, context.subject.site, wake.gateway)) ?? -Infinity,
    members: membersHorizon,
    lives,
    known: run.standing?.wakeOnAnyMember ? context.members : null,
    leastLife: leastTellingLife(run.standing, lives, context.history, now),
  };
}
