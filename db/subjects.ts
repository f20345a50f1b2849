import type { Subject } from '../shared/inference/event.ts';
import { sourcesOf, subjectsOf } from '../shared/inference/sources.ts';
import type { SiteHistory } from '../shared/telemetry/site.ts';
import { readDeviceIds } from './points.ts';
import { statement, type Queries } from './pool.ts';
import { int4Array } from './values.ts';

/**
 * The rows that a site's history asks for: its subjects, its points, which folds read which points, whose edges panels and
 * spaces fold. Derived from the same functions as the folds' own sources, so that a sample wakes exactly the folds that
 * read it. A point's row outlives its place in the configuration; a subject's doesn't.
 */
export async function writeSubjects(queries: Queries, site: string, history: SiteHistory): Promise<void> {
  const subjects = subjectsOf(history);
  const plan = subjects.map((subject) => ({ subject, sources: sourcesOf(history, subject) }));
  const kinds = subjects.map(({ kind }) => kind);
  const devices = subjects.map(({ device }) => device);
  await queries.run(DROP_SUBJECTS, [site, kinds, devices]);
  await queries.run(ADD_SUBJECTS, [site, kinds, devices]);
  const points = plan.flatMap(({ sources }) => sources.filter(({ kind }) => kind !== 'edges'));
  await queries.run(ADD_POINTS, [site, points.map((p) => p.device), points.map((p) => p.signal)]);
  await writeLinks(queries, site, plan);
}

type Plan = readonly { readonly subject: Subject; readonly sources: ReturnType<typeof sourcesOf> }[];

async function writeLinks(queries: Queries, site: string, plan: Plan): Promise<void> {
  const ids = await readDeviceIds(queries, site);
  const links: Links = { pointIds: [], pointSubjects: [], memberIds: [], memberSubjects: [] };
  for (const { subject, sources } of plan) {
    const subjectId = ids.subjects.get(`${subject.kind}/${subject.device}`)!;
    for (const source of sources) {
      if (source.kind === 'edges') {
        links.memberIds.push(ids.subjects.get(`unit/${source.device}`)!);
        links.memberSubjects.push(subjectId);
      } else {
        links.pointIds.push(ids.points.get(source.key)!);
        links.pointSubjects.push(subjectId);
      }
    }
  }
  await queries.run(DROP_POINT_LINKS, [site]);
  await queries.run(ADD_POINT_LINKS, [int4Array(links.pointIds), int4Array(links.pointSubjects)]);
  await queries.run(DROP_MEMBER_LINKS, [site]);
  await queries.run(ADD_MEMBER_LINKS, [int4Array(links.memberIds), int4Array(links.memberSubjects)]);
}

interface Links {
  readonly pointIds: number[];
  readonly pointSubjects: number[];
  readonly memberIds: number[];
  readonly memberSubjects: number[];
}

const GIVEN = 'unnest($2::text[], $3::text[])';

const DROP_SUBJECTS = statement(
  'subjects-drop',
  `delete from subjects where site = $1 and (kind, device) not in (select * from ${GIVEN})`,
);
const ADD_SUBJECTS = statement(
  'subjects-add',
  `insert into subjects (site, kind, device) select $1, kind, device from ${GIVEN} as given(kind, device)
   on conflict do nothing`,
);
const ADD_POINTS = statement(
  'points-add',
  `insert into points (site, device, signal)
   select distinct $1, device, signal from ${GIVEN} as given(device, signal)
   on conflict do nothing`,
);
const OF_SITE = '(select id from subjects where site = $1)';
const DROP_POINT_LINKS = statement(
  'point-subjects-drop',
  `delete from point_subjects where subject_id in ${OF_SITE}`,
);
const DROP_MEMBER_LINKS = statement(
  'subject-members-drop',
  `delete from subject_members where subject_id in ${OF_SITE}`,
);
const LINKS = 'select distinct * from unnest($1::int4[], $2::int4[])';
const ADD_POINT_LINKS = statement(
  'point-subjects-add',
  `insert into point_subjects (point_id, subject_id) ${LINKS}`,
);
const ADD_MEMBER_LINKS = statement(
  'subject-members-add',
  `insert into subject_members (member_id, subject_id) ${LINKS}`,
);
