import { readEscalation, type EscalationRow } from '../../db/escalations.ts';
import { readPolicyOf } from '../../db/policies.ts';
import type { Queries } from '../../db/pool.ts';
import { readWorks, type KeptAlarm } from '../../db/read-alarms.ts';
import { readEvent } from '../../db/read-events.ts';
import { readStandings } from '../../db/read-status.ts';
import { readNames } from '../../db/rosters.ts';
import { readClosedAt, readFindings, readSteps } from '../../db/visits.ts';
import { ALARM_RULES } from '../../shared/alarms/rules.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { mustGo, ORDINARY_NIGHT, type NeedsBy } from '../../shared/people/must-go.ts';
import { clockText } from '../../shared/people/wall-time.ts';
import type { Site, Unit } from '../../shared/telemetry/site.ts';
import { checksFor, FIRST_STEP, whatToBring } from '../../shared/visit/checks.ts';
import { runsOf, weighed, wouldTell, type Seen } from '../../shared/visit/hints.ts';
import { wireWork } from '../../shared/wire/alarm-wire.ts';
import { clearingLines } from '../../shared/wire/clearing.ts';
import { eventSentence } from '../../shared/wire/event-sentences.ts';
import { parsePolicy, type ParsedPolicy } from '../../shared/wire/on-call-document.ts';
import { wireInstant, wireSpan } from '../../shared/wire/standing-wire.ts';
import type { VisitAnswer } from '../../shared/wire/visit-answer.ts';
import { wireCheck, wireFindings, wireStep } from '../../shared/wire/visit-wire.ts';
import type { Setup } from '../follow/setup.ts';
import { readRootFacts } from '../notify/read-facts.ts';
import { readWhoIsOn } from '../notify/who-is-on.ts';
import type { Service } from '../service.ts';
import { unitSettings } from '../status/settings.ts';
import { factsOf } from '../status/unit-view.ts';
import { readKnownRuns, readUnitRecord, type UnitRecord } from './unit-record.ts';
import { watchOf } from './watch.ts';

/** Everything about an alarm for whoever goes there, but for the alarm with its journal (handbook 8). */
export interface VisitCase {
  readonly kept: KeptAlarm;
  readonly setup: Setup;
  readonly site: Site;
  readonly now: Instant;
}

const LOOK_BACK = seconds(3 * 86_400);
/** an alarm that stands for weeks is told from its last days */
const AT_MOST = seconds(17 * 86_400);

export async function readVisit(
  queries: Queries,
  service: Service,
  at: VisitCase,
): Promise<Omit<VisitAnswer, 'alarm'>> {
  const { kept, setup, site, now } = at;
  const { alarm } = kept;
  const unit = site.units.find(({ id }) => id === alarm.subject.unit) ?? null;
  const from = Math.max(alarm.since.latest - LOOK_BACK, now - AT_MOST);
  const standing = unit && (await standingOf(queries, site, unit));
  // a gateway's clock may be ahead of ours
  const through = unit && (await readKnownRuns(queries, setup, unit, standing?.through ?? null));
  const to = Math.max(now, through ?? now) + 1;
  const record = unit && (await readUnitRecord(queries, setup, unit.id, { from, to }));
  const policy = policyOf((await readPolicyOf(queries, site.id))?.document);
  const facts = await readRootFacts(queries, service, alarm.id);
  const steps = await readSteps(queries, [alarm.id]);
  const findings = await readFindings(queries, [alarm.id]);
  const closedAt = await readClosedAt(queries, alarm.id);
  const works = await readWorks(queries, [site.id]);
  const units = unitsOf(at);
  return {
    serverTime: wireInstant(now)!,
    urgency: urgencyOf(
      at,
      policy,
      facts?.needsBy ?? { kind: 'not-known', says: 'its site isn’t configured' },
    ),
    cooling: [...(facts?.cooling ?? [])],
    telling: await tellingOf(queries, alarm.id, policy, now),
    timeline: await timelineOf(queries, at, record),
    ...checksOf(at, unit, record),
    clears: clearsOf(at, unit, record),
    unit: unit && {
      id: unit.id,
      name: unit.name,
      settings: unitSettings(unit.protection, standing?.settingsSeen ?? []),
      facts: factsOf(setup, unit.id, now),
    },
    units: units.map(({ id, name }) => ({ id, name })),
    works: works.filter((work) => work.units.some((id) => units.some((one) => one.id === id))).map(wireWork),
    steps: steps.map(wireStep),
    findings: findings.map(wireFindings),
    watch: record && watchOf(alarm, unit, record, { closedAt, through }),
  };
}

/** The units that whoever goes there may be about to work on. */
function unitsOf({ kept: { alarm }, site }: VisitCase): readonly Unit[] {
  const { unit, kind, device } = alarm.subject;
  if (unit !== null) return site.units.filter(({ id }) => id === unit);
  return site.units.filter(
    ({ id, panel, space }) =>
      alarm.members.includes(id) ||
      (kind === 'panel' && panel === device) ||
      (kind === 'space' && space === device) ||
      kind === 'site',
  );
}

export async function standingOf(queries: Queries, site: Site, unit: Unit) {
  const row = (await readStandings(queries, [site.id])).find(
    ({ kind, device }) => kind === 'unit' && device === unit.id,
  );
  return { settingsSeen: row?.standing?.unit?.settingsSeen ?? [], through: row?.knownThrough ?? null };
}

function policyOf(document: unknown): ParsedPolicy | null {
  const parsed = document === undefined ? null : parsePolicy(document);
  return parsed?.ok ? parsed.value : null;
}

function urgencyOf(
  { kept, site, now }: VisitCase,
  policy: ParsedPolicy | null,
  needsBy: NeedsBy,
): VisitAnswer['urgency'] {
  const night = { ...(policy?.night ?? ORDINARY_NIGHT), zone: site.timeZone };
  const { answer, says, heldUntil } = mustGo(kept.alarm.life.severity, needsBy, night, now);
  return { answer, says, heldUntil: wireInstant(heldUntil) };
}

async function tellingOf(
  queries: Queries,
  alarm: string,
  policy: ParsedPolicy | null,
  now: Instant,
): Promise<VisitAnswer['telling']> {
  const row = await readEscalation(queries, alarm);
  if (row === null) return null;
  const names = new Map((await readNames(queries)).map(({ id, name }) => [id, name]));
  const next = await nextOf(queries, row, policy, now);
  return {
    state: row.state,
    dueAt: wireInstant(row.dueAt),
    owner: row.owner,
    ownerName: row.owner === null ? null : (names.get(row.owner) ?? row.owner),
    place: row.place,
    hasPolicy: policy !== null,
    next: next === null ? null : (names.get(next) ?? null),
  };
}

/** Whoever the next page goes to, as the rosters stand now. */
async function nextOf(
  queries: Queries,
  { state, nextPage }: EscalationRow,
  policy: ParsedPolicy | null,
  now: Instant,
): Promise<string | null> {
  const steps = policy?.policy.steps ?? [];
  const step = steps[nextPage % Math.max(1, steps.length)];
  if (!step || (state !== 'paging' && state !== 'held')) return null;
  const isOn = await readWhoIsOn(queries, step.targets, now);
  return step.targets.flatMap(isOn)[0] ?? null;
}

const TOLD_BEFORE = seconds(2 * 3600);
const LINES = 14;

/** What happened, oldest first: of a unit all that it did from two hours before; else the alarm's own events. */
async function timelineOf(
  queries: Queries,
  { kept: { alarm }, site }: VisitCase,
  record: UnitRecord | null,
): Promise<VisitAnswer['timeline']> {
  const clock = (at: Instant) => clockText(at, site.timeZone);
  const from = alarm.since.latest - TOLD_BEFORE;
  const events = record
    ? record.events.filter(({ start, end }) => start.latest >= from || end === null || end.latest >= from)
    : await ownEvents(queries, alarm.events);
  return events.slice(-LINES).map((event) => {
    const { title, course } = eventSentence(event, clock);
    const { certainty, causeCertainty } = event;
    return { event: event.id, start: wireSpan(event.start)!, says: title, course, certainty, causeCertainty };
  });
}

async function ownEvents(queries: Queries, ids: readonly string[]): Promise<EventDraft[]> {
  const found = await Promise.all(ids.slice(-LINES).map((id) => readEvent(queries, id)));
  return found
    .flatMap((kept) => (kept ? [kept.event] : []))
    .toSorted((a, b) => a.start.latest - b.start.latest);
}

function checksOf(
  { kept: { alarm }, setup, now }: VisitCase,
  unit: Unit | null,
  record: UnitRecord | null,
): Pick<VisitAnswer, 'first' | 'checks' | 'wouldTell' | 'bring'> {
  const checks = checksFor(ALARM_RULES[alarm.rule].from.kind, alarm.cause);
  const filter = unit && factsOf(setup, unit.id, now).filter;
  const seen: Seen | null = record && {
    runs: runsOf(record.events, record.outdoorsAt),
    bypassSeconds: unit!.protection.lowPressureBypass.value,
    outdoorsMeasured: record.outdoorsMeasured,
  };
  return {
    first: checks.length === 0 ? null : FIRST_STEP,
    checks: (seen ? weighed(checks, alarm.cause, seen) : checks.map((one) => ({ ...one, seen: null }))).map(
      wireCheck,
    ),
    wouldTell: seen && checks.length > 0 ? wouldTell(alarm.cause, seen) : [],
    bring: checks.length === 0 ? [] : whatToBring(checks, filter),
  };
}

const RESETS_BACK = seconds(7 * 86_400);

function clearsOf(
  { kept: { alarm }, now }: VisitCase,
  unit: Unit | null,
  record: UnitRecord | null,
): string[] {
  const { active, latched } = { active: alarm.life.condition !== 'absent', latched: alarm.life.latched };
  const resets = (record?.events ?? []).filter(
    ({ kind, start }) => kind === 'lockout-reset' && start.latest >= now - RESETS_BACK,
  ).length;
  const protection = unit?.protection;
  const powerUpDelay = protection
    ? protection.powerUpBase.value + protection.powerUpShare.value * protection.offDelay.value
    : null;
  return clearingLines({ rule: alarm.rule, active, latched, resets, powerUpDelay });
}
