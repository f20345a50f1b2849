import type { Queries } from '../../db/pool.ts';
import { readSiteClocks } from '../../db/follow-work.ts';
import {
  readArrivalDelays,
  readProofMarks,
  readProofSamples,
  readProofTicks,
  type ProofMarkRow,
  type ProofSample,
  type ProofSessionRow,
} from '../../db/proofs.ts';
import { readEscalation } from '../../db/escalations.ts';
import { readEvents } from '../../db/read-events.ts';
import { inSeconds, seconds, type Instant } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { judgeProof } from '../../shared/proof/judge.ts';
import { pointsOf, REACH } from '../../shared/proof/point-record.ts';
import {
  LONGEST_SESSION,
  type ProofInput,
  type ProofMark,
  type Verdict,
} from '../../shared/proof/session.ts';
import { clockShifts, correctionAt } from '../../shared/telemetry/clock-shifts.ts';
import type { Sample } from '../../shared/telemetry/sample.ts';
import { signalRow } from '../../shared/telemetry/signals.ts';
import { siteAt, type Site } from '../../shared/telemetry/site.ts';
import type { ProofRecord } from '../../shared/wire/proof-answer.ts';
import { wireProof, type Around, type DrillState } from '../../shared/wire/proof-wire.ts';
import type { Setup } from '../follow/setup.ts';

/** A session judged from what the store has of it now: the record’s samples in event time, the events, the marks. */
export interface JudgedProof {
  readonly site: Site;
  readonly verdict: Verdict;
  readonly record: ProofRecord;
}

/** Of each contact, and of each measured point, so many of the newest samples: hours at a poll a second, and what a rest needs. */
const CONTACT_SAMPLES = 20_000;
const VALUE_SAMPLES = 2_000;
const EVENTS_BOUND = 2_000;

export const endOf = ({ from, endedAt }: ProofSessionRow): Instant => endedAt ?? from + LONGEST_SESSION;

export async function readJudged(
  queries: Queries,
  setup: Setup,
  session: ProofSessionRow,
  now: Instant,
): Promise<JudgedProof> {
  const [from, to] = [session.from, endOf(session)];
  const site = siteAt(setup.history, Math.min(now, to))!;
  const marks = (await readProofMarks(queries, session.id)).map(markOf);
  const { lives } = await readSiteClocks(queries, setup.id);
  const input: ProofInput = {
    session: { from, to: Math.max(from, Math.min(now, to)) },
    history: setup.history,
    samples: await readSamplesOf(queries, setup, site, { from, to }),
    lives: new Map(lives.map(({ gateway, t }) => [gateway, t])),
    events: await readShown(queries, setup.id, from, now),
    marks,
  };
  const verdict = judgeProof(input);
  const around = { site, marks, ...(await readAround(queries, setup, session, verdict)) };
  return { site, verdict, record: wireProof(verdict, around) };
}

const markOf = ({ id, kind, on, at, saidAt, by, note }: ProofMarkRow): ProofMark => ({
  id,
  kind,
  on,
  at: saidAt ?? at,
  arrivedAt: at,
  by,
  note,
});

async function readSamplesOf(
  queries: Queries,
  { ids }: Setup,
  site: Site,
  { from, to }: { readonly from: Instant; readonly to: Instant },
): Promise<Map<string, Sample[]>> {
  const keys = new Map<number, string>();
  const kinds: Record<'contact' | 'analog' | 'life', number[]> = { contact: [], analog: [], life: [] };
  for (const { device, signal } of pointsOf(site)) {
    const id = ids.points.get(`${device}/${signal}`);
    if (id === undefined) continue;
    keys.set(id, `${device}/${signal}`);
    kinds[signalRow(signal).kind].push(id);
  }
  // a clock may be off by as much as the marks can tell, and by what is configured
  const stretch = { from: from - 2 * REACH, before: to + 2 * REACH };
  const rows = [
    ...(await readProofSamples(queries, kinds.contact, stretch, CONTACT_SAMPLES)),
    ...(await readProofSamples(queries, kinds.analog, stretch, VALUE_SAMPLES)),
  ];
  return grouped(rows, keys);
}

function grouped(rows: readonly ProofSample[], keys: ReadonlyMap<number, string>): Map<string, Sample[]> {
  const found = new Map<string, Sample[]>();
  for (const { pointId, t, value, quality } of rows) {
    const key = keys.get(pointId)!;
    const list = found.get(key);
    if (list) list.push({ t, value, quality });
    else found.set(key, [{ t, value, quality }]);
  }
  return found;
}

/** What shows a switch or an alarm by itself. */
export async function readShown(
  queries: Queries,
  site: string,
  from: Instant,
  to: Instant,
): Promise<EventDraft[]> {
  const kept = await readEvents(queries, {
    only: null,
    site,
    space: null,
    panel: null,
    unit: null,
    kinds: ['soft-lockout', 'hard-lockout'],
    from,
    to: to + 1,
    after: null,
    limit: EVENTS_BOUND,
  });
  return kept.map(({ event }) => event);
}

async function readAround(
  queries: Queries,
  setup: Setup,
  session: ProofSessionRow,
  verdict: Verdict,
): Promise<Pick<Around, 'drill' | 'arrived' | 'delays'>> {
  const ticks = await readProofTicks(queries, session.id);
  const rows = await readArrivalDelays(queries, setup.id, { from: session.from, to: endOf(session) });
  const delays = rows.map(({ gateway, usualMs, slowestMs }) => {
    // arrival less the true time: what was claimed, put right by what is configured and by what the marks show beyond it
    const shift = inSeconds(correctionAt(clockShifts(setup.history, `${gateway}/life`), session.from));
    const ahead = verdict.gateways.find((one) => one.gateway === gateway)?.aheadSeconds ?? 0;
    const by = ahead - shift;
    return [gateway, { usual: usualMs / 1000 + by, slowest: slowestMs / 1000 + by }] as const;
  });
  return {
    drill: await readDrillState(queries, session),
    arrived: new Map(ticks.map(({ item, arrivedAt }) => [item, arrivedAt])),
    delays: new Map(delays),
  };
}

async function readDrillState(queries: Queries, session: ProofSessionRow): Promise<DrillState> {
  const { drill, drillAt: sentAt, drillAnsweredAt: answeredAt, drillAnsweredBy: answeredBy } = session;
  const told = { sentAt, answeredAt, answeredBy };
  if (drill === null) return { state: 'none', ...told };
  if (answeredAt !== null) return { state: 'answered', ...told };
  const row = await readEscalation(queries, drill);
  const isOver = row === null || row.state === 'exhausted' || row.state === 'over';
  return { state: isOver ? 'nobody' : 'sent', ...told };
}

/** How long late data may still amend what an ended session has proven. */
export const AMENDED_FOR = seconds(86_400);
