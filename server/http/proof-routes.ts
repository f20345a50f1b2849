import { randomUUID } from 'node:crypto';
import Type from 'typebox';
import {
  addProofMark,
  beginProof,
  endProof,
  MARKS_BOUND,
  readProof,
  readProofMarks,
  readProofs,
  type ProofSessionRow,
} from '../../db/proofs.ts';
import type { Queries } from '../../db/pool.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { pointsOf } from '../../shared/proof/point-record.ts';
import { siteAt } from '../../shared/telemetry/site.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { CorrectionAsk, MarkAsk, ProofAnswer, ProofRecordAnswer } from '../../shared/wire/proof-answer.ts';
import { correctionText } from '../../shared/wire/proof-correct.ts';
import type { Setup } from '../follow/setup.ts';
import { putCorrection } from '../proof/correct.ts';
import { answerTest, sendDrill } from '../proof/drill.ts';
import { printedRecord } from '../proof/print-record.ts';
import { readProofPage, readProofRecord } from '../proof/read-page.ts';
import { endOf, readJudged } from '../proof/read-proof.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';
import { personOf } from './alarm-routes.ts';
import type { App } from './app.ts';
import { Pdf, sendPdf } from './files.ts';
import { saidAtOf, SiteParameter, Slug } from './query.ts';
import { Refusal } from './refusal.ts';

/**
 * The proof of a site’s wiring (issue 7): one session at a time, marks in any order and late, corrections by one press, the
 * drill, and the records that are kept. A mark that waited on its way counts from when it was pressed.
 */
const SessionParameters = Type.Object({ site: Slug, session: Type.String({ format: 'uuid' }) });
const SEE = { action: 'see-sites' } as const;
const PROVE = { action: 'prove-sites' } as const;
const CHANGE = { action: 'change-sites' } as const;
const page = { 200: ProofAnswer, 400: Problem, 404: Problem, 409: Problem, 422: Problem };

export function proofRoutes(app: App, service: Service): void {
  const read = { params: SiteParameter, response: { 200: ProofAnswer, 404: Problem } };
  app.get('/sites/:site/proof', { schema: read, config: SEE }, ({ params }) => pageOf(service, params.site));
  sessionRoutes(app, service);
  markRoute(app, service);
  correctionRoute(app, service);
  drillRoutes(app, service);
  recordRoutes(app, service);
}

const pageOf = (service: Service, site: string): Promise<ProofAnswer> =>
  inSnapshot(service.database, async (queries) =>
    readProofPage(queries, await setupOf(queries, service, site), service.now()),
  );

async function setupOf(queries: Queries, service: Service, site: string): Promise<Setup> {
  const setup = await service.setups.read(queries, site);
  if (!setup) throw new Refusal('not-found', `There is no site "${site}".`);
  return setup;
}

async function openOf(service: Service, site: string): Promise<ProofSessionRow> {
  const [newest] = await readProofs(service.database, site, 1);
  if (newest?.endedAt === null) return newest;
  throw new Refusal('not-now', 'No proof is open at this site: begin one.');
}

function sessionRoutes(app: App, service: Service): void {
  const schema = { params: SiteParameter, response: page };
  app.post('/sites/:site/proof/begin', { schema, config: PROVE }, async ({ params, actor }) => {
    await setupOf(service.database, service, params.site);
    const person = personOf(actor) ?? actor.name;
    const row = { id: randomUUID(), site: params.site, from: service.now(), person, by: actor.name };
    // whoever begins second is in the first one’s session
    await beginProof(service.database, row);
    return pageOf(service, params.site);
  });

  app.post('/sites/:site/proof/end', { schema, config: PROVE }, async ({ params }) => {
    const { id } = await openOf(service, params.site);
    await endProof(service.database, id, service.now());
    service.proofsChanged();
    return pageOf(service, params.site);
  });
}

function markRoute(app: App, service: Service): void {
  const schema = {
    params: SessionParameters,
    body: MarkAsk,
    response: {
      200: Type.Object({ isNew: Type.Boolean() }),
      400: Problem,
      404: Problem,
      409: Problem,
      422: Problem,
    },
  };
  app.post(
    '/sites/:site/proof/:session/marks',
    { schema, config: PROVE },
    async ({ params, body, actor, audited }) => {
      const { site, session } = params;
      const row = await readProof(service.database, site, session);
      if (!row) throw new Refusal('not-found', `There is no proof "${session}" at this site.`);
      const at = service.now();
      const saidAt = saidAtOf(body.saidAt, at);
      refuseOutside(row, saidAt ?? at);
      await refuseUnknown(service, site, body);
      if ((await readProofMarks(service.database, session)).length >= MARKS_BOUND)
        throw new Refusal('not-now', 'Too many marks in one proof: end it and begin another.');
      audited.detail = { proof: session, kind: body.kind, on: body.on };
      const isNew = await addProofMark(service.database, {
        id: body.command,
        session,
        kind: body.kind,
        on: body.on,
        person: personOf(actor) ?? actor.name,
        by: actor.name,
        at,
        saidAt,
        clockAheadMs: body.clockAheadMs ?? null,
        note: body.note ?? '',
      });
      service.proofsChanged();
      return { isNew };
    },
  );
}

function refuseOutside(row: ProofSessionRow, done: Instant): void {
  if (done >= row.from && done <= endOf(row)) return;
  throw new Refusal(
    'not-now',
    'It was done outside of this proof: what counts is when it was done, not when it arrived.',
  );
}

async function refuseUnknown(
  service: Service,
  site: string,
  { kind, on }: { kind: string; on: string },
): Promise<void> {
  const known = siteAt((await setupOf(service.database, service, site)).history, service.now())!;
  const units = known.units.map(({ id }) => id);
  const points = pointsOf(known).map(({ device, signal }) => `${device}/${signal}`);
  const isItem = points.includes(on) || units.some((unit) => on.startsWith(`unit:${unit}/`));
  const isKnown = kind === 'mended' ? points.includes(on) : kind === 'left-out' ? isItem : units.includes(on);
  if (!isKnown) throw new Refusal('bad-configuration', `There is no "${on}" at this site.`);
}

function correctionRoute(app: App, service: Service): void {
  const schema = { params: SiteParameter, body: CorrectionAsk, response: page };
  app.post(
    '/sites/:site/proof/corrections',
    { schema, config: CHANGE },
    async ({ params, body, actor, audited }) => {
      const { site } = params;
      const open = await openOf(service, site);
      const { fault, now } = await inSnapshot(service.database, async (queries) => {
        const at = service.now();
        const judged = await readJudged(queries, await setupOf(queries, service, site), open, at);
        return {
          fault: judged.verdict.faults.find(({ key }) => key === body.fault),
          site: judged.site,
          now: at,
        };
      });
      const setup = await setupOf(service.database, service, site);
      if (
        !fault?.correction ||
        correctionText(siteAt(setup.history, now)!, fault.correction).diff !== body.diff
      )
        throw new Refusal('not-now', 'That isn’t what is found any more: look again.');
      audited.detail = { fault: fault.key, correction: fault.correction };
      await putCorrection(service.database, { site, by: actor.name, now }, fault.correction);
      service.follower?.nudge();
      service.proofsChanged();
      return pageOf(service, site);
    },
  );
}

function drillRoutes(app: App, service: Service): void {
  const schema = { params: SiteParameter, response: page };
  app.post('/sites/:site/proof/drill', { schema, config: PROVE }, async ({ params }) => {
    await sendDrill(service.database, await openOf(service, params.site), service.now());
    return pageOf(service, params.site);
  });

  app.post(
    '/sites/:site/proof/drill/answer',
    { schema, config: { action: 'answer-alarms' } },
    async ({ params, actor }) => {
      const { drill } = await openOf(service, params.site);
      if (drill === null) throw new Refusal('not-now', 'No TEST notice was sent.');
      await service.database.transaction({ name: 'answer-test' }, (queries) =>
        answerTest(queries, drill, actor.name, service.now()),
      );
      return pageOf(service, params.site);
    },
  );
}

function recordRoutes(app: App, service: Service): void {
  const schema = { params: SessionParameters, response: { 200: ProofRecordAnswer, 404: Problem } };
  app.get('/sites/:site/proof/:session', { schema, config: SEE }, ({ params }) => recordOf(service, params));

  const paper = { params: SessionParameters, response: { 200: Pdf, 404: Problem } };
  app.get(
    '/sites/:site/proof/:session/record.pdf',
    { schema: paper, config: SEE },
    async ({ params }, reply) =>
      sendPdf(
        reply,
        `commissioning-record-${params.site}`,
        printedRecord(await recordOf(service, params), service.now()),
      ),
  );
}

async function recordOf(
  service: Service,
  { site, session }: { site: string; session: string },
): Promise<ProofRecordAnswer> {
  const found = await inSnapshot(service.database, async (queries) =>
    readProofRecord(queries, await setupOf(queries, service, site), session, service.now()),
  );
  if (!found)
    throw new Refusal(
      'not-found',
      `There is no record of a proof "${session}" at this site: while it is open, it has none.`,
    );
  return found;
}
