import type { FastifyRequest } from 'fastify';
import { readOpenEscalations, type EscalationRow } from '../../db/escalations.ts';
import { readPolicies } from '../../db/policies.ts';
import type { Queries } from '../../db/pool.ts';
import { readNames, readOverrides, readRosters, type StoredDocument } from '../../db/rosters.ts';
import { readReachable } from '../../db/channels.ts';
import { formatInstant, type Instant } from '../../shared/base/instant.ts';
import { gapsOf, onCallAt, turnsOf } from '../../shared/people/on-call.ts';
import type { Turn } from '../../shared/people/roster.ts';
import {
  OnCallAnswer,
  type EscalationAnswer,
  type Turn as WireTurn,
} from '../../shared/wire/on-call-answer.ts';
import { parsePolicy, parseRoster } from '../../shared/wire/on-call-document.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';
import { sitesOf } from './access.ts';
import type { App } from './app.ts';
import { digestRoutes } from './digest-routes.ts';

/** Who is on call now, where nobody is, and what is under way. */
const DAYS_AHEAD = 30;
const DAY = 86_400e6;

export function onCallRoutes(app: App, service: Service): void {
  digestRoutes(app, service);
  const config = { action: 'see-on-call' } as const;
  app.get('/on-call', { schema: { response: { 200: OnCallAnswer } }, config }, (request) =>
    inSnapshot(service.database, (queries) => answer(queries, service, request)),
  );
}

async function answer(queries: Queries, service: Service, request: FastifyRequest): Promise<OnCallAnswer> {
  const now = service.now();
  const people = await readNames(queries);
  const stored = await readRosters(queries);
  const rosters: OnCallAnswer['rosters'] = [];
  for (const one of stored) rosters.push(await rosterNow(queries, one, now));
  const escalations = await readOpenEscalations(queries, sitesOf(request));
  return {
    rosters,
    escalations: escalations.map(wireEscalation),
    people: people.map(({ id, name }) => ({ id, name })),
    ...(await warningsOf(queries, service, rosters)),
    serverTime: formatInstant(now),
  };
}

async function rosterNow(
  queries: Queries,
  { id, name, document }: StoredDocument,
  now: Instant,
): Promise<OnCallAnswer['rosters'][number]> {
  const parsed = parseRoster(id, name, document);
  if (!parsed.ok) return { id, name, zone: '', person: null, until: null, next: null, gaps: [] };
  const until = now + DAYS_AHEAD * DAY;
  const overrides = await readOverrides(queries, id, now, now + 61 * DAY);
  const on = onCallAt(parsed.value, overrides, now);
  return {
    id,
    name,
    zone: parsed.value.zone,
    person: on.person,
    until: wireInstant(on.until),
    next: on.next,
    gaps: gapsOf(turnsOf(parsed.value, overrides, now, until)).map(wireTurn),
  };
}

export const wireTurn = ({ from, to, person, by }: Turn): WireTurn => ({
  from: formatInstant(from),
  to: formatInstant(to),
  person,
  by,
});

export const wireEscalation = (row: EscalationRow): EscalationAnswer => ({
  alarm: row.alarm,
  site: row.site,
  severity: row.severity,
  state: row.state,
  startedAt: formatInstant(row.startedAt),
  dueAt: wireInstant(row.dueAt),
  owner: row.owner,
  place: row.place,
});

/** Whatever would keep an alarm from reaching anybody is said before it matters. */
async function warningsOf(
  queries: Queries,
  { notices }: Service,
  rosters: OnCallAnswer['rosters'],
): Promise<Pick<OnCallAnswer, 'warnings' | 'hindrances'>> {
  const policies = await readPolicies(queries);
  const withoutPolicy = [
    ...(policies.length === 0 ? ['There is no policy: nobody is told of any alarm.'] : []),
    ...(policies.length > 0 && !policies.some(({ isDefault }) => isDefault)
      ? ['No policy holds for sites that have none of their own: nobody is told of their alarms.']
      : []),
  ];
  const senders = [
    ...(notices.kinds.includes('e-mail') ? [] : ['No e-mail is sent from here: SMTP_URL isn’t set.']),
    ...(notices.publicUrl === null
      ? ['Links in messages lead to this machine only: PUBLIC_URL isn’t set.']
      : []),
  ];
  const people = [
    ...rosters
      .filter(({ person }) => person === null)
      .map(({ name }) => `Nobody is on call now for “${name}”.`),
    ...(await unreachable(queries, rosters, policies)),
  ];
  return {
    warnings: [...withoutPolicy, ...senders, ...people],
    hindrances: [...withoutPolicy, ...people],
  };
}

/** Whoever is on call now, or is named by a policy, with no way to be reached. */
async function unreachable(
  queries: Queries,
  rosters: OnCallAnswer['rosters'],
  policies: readonly StoredDocument[],
): Promise<string[]> {
  const on = new Set(rosters.flatMap(({ person }) => (person === null ? [] : [person])));
  const named = policies.flatMap(({ document }) => peopleIn(document)).filter((person) => !on.has(person));
  const people = [...on, ...new Set(named)];
  const reachable = new Set(await readReachable(queries, people));
  const names = new Map((await readNames(queries)).map(({ id, name }) => [id, name]));
  return people
    .filter((person) => !reachable.has(person))
    .map((person) => {
      const where = on.has(person) ? 'is on call' : 'is asked by a policy';
      return `${names.get(person) ?? 'Somebody'} ${where} and has no way to be reached.`;
    });
}

function peopleIn(document: unknown): string[] {
  const parsed = parsePolicy(document);
  if (!parsed.ok) return [];
  const { steps, fallback } = parsed.value.policy;
  return [...steps.flatMap(({ targets }) => targets), ...fallback].flatMap(({ kind, id }) =>
    kind === 'person' ? [id] : [],
  );
}
