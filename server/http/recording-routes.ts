import Type from 'typebox';
import { readRecordingFile, readRecordings, type RecordingFacts } from '../../db/recordings.ts';
import { formatInstant } from '../../shared/base/instant.ts';
import { Problem } from '../../shared/wire/problem.ts';
import type { Panel } from '../../shared/telemetry/site.ts';
import {
  RECORDING_BODY_BYTES,
  RecordingAsk,
  RecordingList,
  RecordingPreview,
  RecordingSaved,
  type RecordingTaken,
} from '../../shared/wire/recording-wire.ts';
import type { Setup } from '../follow/setup.ts';
import { lookInto, previewOf } from '../recordings/look.ts';
import { takeRecording } from '../recordings/take.ts';
import type { Service } from '../service.ts';
import type { App } from './app.ts';
import { AsItCame, sendAsItCame } from './files.ts';
import { Slug } from './query.ts';
import { Refusal } from './refusal.ts';
import { setupOf } from './site-routes.ts';

export const PanelParameter = Type.Object({ site: Slug, panel: Slug });
const LISTED = 200;

/** A recorder's file taken in to a panel: looked into first, then taken (IEEE C37.111). */
export function recordingRoutes(app: App, service: Service): void {
  const asked = { params: PanelParameter, body: RecordingAsk };
  const refusals = { 400: Problem, 404: Problem, 413: Problem, 422: Problem };
  const bodyLimit = RECORDING_BODY_BYTES;

  const look = { schema: { ...asked, response: { 200: RecordingPreview, ...refusals } }, bodyLimit };
  app.post(
    '/panels/:site/:panel/recordings/preview',
    { ...look, config: { action: 'look-into-recordings' } },
    async ({ params, body }) => {
      const { setup, panel } = await panelOf(service, params);
      return previewOf(panel, lookInto(setup.history.at(-1)!.site, panel, body), service.now());
    },
  );

  const take = {
    schema: { ...asked, response: { 200: RecordingSaved, 201: RecordingSaved, 409: Problem, ...refusals } },
    bodyLimit,
  };
  app.post(
    '/panels/:site/:panel/recordings',
    { ...take, config: { action: 'take-recordings' } },
    async ({ params, body, actor, audited }, reply) => {
      const { setup, panel } = await panelOf(service, params);
      const taking = {
        ...{ setup, panel, ask: body, now: service.now(), by: actor.name },
        look: lookInto(setup.history.at(-1)!.site, panel, body),
      };
      const { row, added } = await takeRecording(service.database, taking);
      service.follower?.nudge();
      audited.detail = { recording: row.id, added };
      return reply.code(added > 0 ? 201 : 200).send({ recording: takenOf(row), added });
    },
  );

  const list = { params: PanelParameter, response: { 200: RecordingList, 404: Problem } };
  app.get(
    '/panels/:site/:panel/recordings',
    { schema: list, config: { action: 'see-sites' } },
    async ({ params }) => {
      await panelOf(service, params);
      const rows = await readRecordings(service.database, params.site, params.panel, LISTED);
      return { items: rows.map(takenOf), cursor: null };
    },
  );
  fileRoute(app, service);
}

function fileRoute(app: App, service: Service): void {
  const schema = {
    params: Type.Object({
      ...PanelParameter.properties,
      id: Type.String({ maxLength: 100 }),
      place: Type.Integer({ minimum: 0, maximum: 20 }),
    }),
    response: { 200: AsItCame, 400: Problem, 404: Problem },
  };
  app.get(
    '/panels/:site/:panel/recordings/:id/files/:place',
    { schema, config: { action: 'see-sites' } },
    async ({ params }, reply) => {
      await panelOf(service, params);
      const found = await readRecordingFile(service.database, params);
      if (!found)
        throw new Refusal('not-found', `This panel has no such file: ${params.id}, ${params.place}.`);
      return sendAsItCame(reply, found.name, found.content);
    },
  );
}

/** As the configuration that holds now has it. */
export async function panelOf(
  service: Service,
  asked: { readonly site: string; readonly panel: string },
): Promise<{ readonly setup: Setup; readonly panel: Panel }> {
  const setup = await setupOf(service, asked.site);
  const panel = setup.history.at(-1)!.site.panels.find(({ id }) => id === asked.panel);
  if (!panel) throw new Refusal('not-found', `There is no panel "${asked.panel}" at "${asked.site}".`);
  return { setup, panel };
}

const takenOf = (row: RecordingFacts): RecordingTaken => ({
  id: row.id,
  takenAt: formatInstant(row.takenAt),
  takenBy: row.takenBy,
  station: row.station,
  device: row.device,
  names: [...row.names],
  from: formatInstant(row.from),
  to: formatInstant(row.to),
  voltages: row.voltages as RecordingTaken['voltages'],
  faults: [...row.faults],
  samples: row.samples,
});
