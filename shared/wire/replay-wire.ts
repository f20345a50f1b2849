import { formatInstant, inSeconds, type Instant } from '../base/instant.ts';
import { powerUpDelay } from '../control/settings.ts';
import type { ControlReason } from '../control/state.ts';
import type { EventDraft } from '../inference/event.ts';
import type { UnitDifference } from '../replay/differences.ts';
import { unitAtEnd } from '../replay/histories.ts';
import type { ReplayPlan, ReplayResult } from '../replay/replay-site.ts';
import type { UnitResult } from '../replay/unit-result.ts';
import { siteAt, type Protection, type Site } from '../telemetry/site.ts';
import type { ReplayDifference, ReplayResultAnswer, ReplayUnit } from './replay-answer.ts';
import { wireEvent, wireSpan } from './standing-wire.ts';
import { stripOf } from './strip.ts';

/** From what a replay came to, in instants, to what crosses the wire; every list bounded. */
const LIST_BOUND = 2000;

export function wireReplay(plan: ReplayPlan, result: ReplayResult, now: Instant): ReplayResultAnswer {
  const site = siteAt(plan.recorded, result.to)!;
  const kept = { replaces: [], revision: 0, inferredAt: now };
  const event = (draft: EventDraft | null) => draft && wireEvent(draft, kept);
  return {
    site: { id: site.id, name: site.name, timeZone: site.timeZone },
    from: formatInstant(result.from),
    to: formatInstant(result.to),
    units: result.units.map((unit) => wireUnit(plan, site, unit, result)),
    names: namesOf(site),
    events: result.events.slice(0, LIST_BOUND).map(({ kind, seen, replayed }) => ({
      kind,
      seen: event(seen),
      replayed: event(replayed),
    })),
  };
}

const namesOf = ({ units, panels, spaces }: Site): Record<string, string> =>
  Object.fromEntries([...panels, ...spaces, ...units].map(({ id, name }) => [id, name]));

function wireUnit(plan: ReplayPlan, site: Site, unit: UnitResult, { from, to }: ReplayResult): ReplayUnit {
  const configured = site.units.find(({ id }) => id === unit.unit)!;
  const recorded = delaysOf(unitAtEnd(plan.recorded, unit.unit, to)!.protection);
  const replayed = delaysOf(unitAtEnd(plan.replayed, unit.unit, to)!.protection);
  const { course } = unit;
  const after = (at: Instant) => Math.round(inSeconds(at - from) * 10) / 10;
  const delays = { offDelaySeconds: recorded.offDelay, powerUpDelaySeconds: recorded.powerUpDelay };
  return {
    id: unit.unit,
    name: configured.name,
    panel: configured.panel,
    changed: unit.changed,
    refused: unit.refused,
    unseen: [...unit.unseen],
    delays: { recorded, replayed },
    seen: stripOf(unit.seen, delays, { from, to }),
    replayed: course.stages.map(({ phase, grade, ...stage }) => ({
      phase,
      start: after(stage.from),
      end: after(stage.to),
      grade,
    })),
    differences: unit.differences.slice(0, LIST_BOUND).map(wireDifference),
    beyond: course.beyond
      .slice(0, LIST_BOUND)
      .map((one) => ({ from: formatInstant(one.from), to: formatInstant(one.to), why: one.why })),
    baseline: { compared: unit.baseline.compared, differing: unit.baseline.differences.length },
    cut: unit.differences.length > LIST_BOUND || course.beyond.length > LIST_BOUND,
  };
}

const delaysOf = ({ offDelay, powerUpBase, powerUpShare }: Protection) => ({
  offDelay: offDelay.value,
  powerUpDelay: powerUpDelay({
    offDelay: offDelay.value,
    powerUpBase: powerUpBase.value,
    powerUpShare: powerUpShare.value,
  }),
});

const wireDifference = (one: UnitDifference): ReplayDifference => ({
  kind: one.kind,
  seen: wireSpan(one.seen),
  replayed: wireSpan(one.replayed),
  shiftSeconds: one.shift,
  reason: one.reason && wireReason(one.reason),
  leansOn: [...one.leansOn],
});

const wireReason = (reason: ControlReason): NonNullable<ReplayDifference['reason']> =>
  reason.code === 'wait-over'
    ? { code: reason.code, wait: reason.wait, waited: reason.waited }
    : { code: reason.code };
