import { randomUUID } from 'node:crypto';
import type { Queries } from '../../db/pool.ts';
import {
  addProposalStep,
  holdProposal,
  readProposalSteps,
  type ProposalRow,
  type ProposalStepRow,
} from '../../db/proposals.ts';
import { amendSite } from '../../db/sites.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import {
  judgeKept,
  readBackFaults,
  type Kept,
  type ProposalStep,
  type ReadBack,
} from '../../shared/stagger/life.ts';
import type { SiteDocument } from '../../shared/wire/site-document.ts';
import { Refusal } from '../http/refusal.ts';

/** What people do about a proposal, each in one transaction, and what came of it. */
export interface Step {
  readonly site: string;
  readonly panel: string;
  readonly proposal: string;
  readonly person: string | null;
  readonly by: string;
  readonly at: Instant;
  readonly note: string;
}

const thereIsNone = (id: string): Refusal =>
  new Refusal('not-found', `There is no proposal "${id}" for this panel.`);

const CANNOT: Readonly<Record<ProposalStep, string>> = {
  agree: 'Only one that is drafted can be agreed.',
  set: 'Only one that is agreed can be set.',
  withdraw: 'It is set, or withdrawn, already.',
};

export async function takeProposalStep(
  queries: Queries,
  step: 'agree' | 'withdraw',
  asked: Step,
): Promise<void> {
  const held = await heldFor(queries, asked);
  await add(queries, held, { ...stepRow(asked, step), fromAt: null, readBacks: null });
}

/**
 * Writes down what was set, and puts it into the site's record from the instant at which it was set, there and in every later
 * document: what the dials show, whether or not it is what was proposed.
 */
export async function setProposal(
  queries: Queries,
  asked: Step & { readonly fromAt: Instant; readonly readBacks: readonly ReadBack[] },
): Promise<void> {
  const held = await heldFor(queries, asked);
  const steps = await readProposalSteps(queries, [held.id]);
  const agreed = steps.find(({ step }) => step === 'agree');
  if (held.state !== 'agreed' || !agreed) throw new Refusal('not-now', CANNOT.set);
  refuseTimes(asked, agreed.at);
  refuseReadBacks(held, asked.readBacks);
  await add(queries, held, { ...stepRow(asked, 'set'), fromAt: asked.fromAt, readBacks: asked.readBacks });
  const { site, fromAt: from, at: now, by } = asked;
  const amended = await amendSite(queries, { site, from, now, by }, (document) =>
    withDelays(document as SiteDocument, asked.readBacks),
  );
  if (!amended) throw thereIsNone(asked.proposal);
}

function refuseTimes(
  { fromAt, at }: { readonly fromAt: Instant; readonly at: Instant },
  agreedAt: Instant,
): void {
  if (fromAt > at) throw refused('/at', 'It can’t have been set later than now: give when it was.');
  if (fromAt < agreedAt) throw refused('/at', 'It was agreed after that: give an instant since then.');
}

function refuseReadBacks({ plan }: ProposalRow, readBacks: readonly ReadBack[]): void {
  const faults = readBackFaults(plan, readBacks);
  if (faults.length === 0) return;
  const at = faults.map((fault) => ({
    pointer: fault.at === null ? '/readBacks' : `/readBacks/${fault.at}/unit`,
    message: fault.says,
  }));
  throw new Refusal('bad-request', 'What was read back isn’t whole.', at);
}

const refused = (pointer: string, message: string): Refusal =>
  new Refusal('bad-request', 'That can’t be.', [{ pointer, message }]);

/** The document with what the dials show; units that aren't in it any more stay away. */
function withDelays(document: SiteDocument, readBacks: readonly ReadBack[]): SiteDocument {
  const units = document.units?.map((unit) => {
    const read = readBacks.find((one) => one.unit === unit.id);
    return read?.offDelay == null
      ? unit
      : { ...unit, protection: { ...unit.protection, offDelay: read.offDelay } };
  });
  return units ? { ...document, units } : document;
}

async function heldFor(queries: Queries, { proposal, site, panel }: Step): Promise<ProposalRow> {
  const held = await holdProposal(queries, proposal);
  if (!held || held.site !== site || held.panel !== panel) throw thereIsNone(proposal);
  return held;
}

const stepRow = (asked: Step, step: ProposalStep) => ({
  id: randomUUID(),
  proposal: asked.proposal,
  step,
  person: asked.person,
  by: asked.by,
  at: asked.at,
  note: asked.note,
});

async function add(queries: Queries, held: ProposalRow, row: ProposalStepRow): Promise<void> {
  if (!(await addProposalStep(queries, held, row))) throw new Refusal('not-now', CANNOT[row.step]);
}

/** Null until it is set. `sequences`: the panel's, oldest first. */
export function keptOf(
  { plan, id, panel }: ProposalRow,
  steps: readonly ProposalStepRow[],
  sequences: readonly EventDraft[],
): Kept | null {
  const set = steps.find(({ proposal, step }) => proposal === id && step === 'set');
  if (!set) return null;
  const units = (set.readBacks ?? []).flatMap(({ unit, offDelay }) => (offDelay === null ? [] : [unit]));
  const own = sequences.filter((event) => event.panel === panel);
  return judgeKept(plan, { at: set.fromAt ?? set.at, units }, own);
}
