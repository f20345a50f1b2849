import type { Span } from '../../base/span.ts';
import type { Conclusion, Output } from '../fold.ts';
import { isGatewaysSilence } from '../members/gateway-silence.ts';
import { isOwnKey, signalOfKey } from '../members/queue.ts';
import { wireOf } from '../members/wired.ts';
import type { PanelStanding } from '../standing.ts';
import { silentPoint, tentatively } from '../subject-draft.ts';
import { generatorEvent } from './generator.ts';
import { sequenceEvent } from './restart-event.ts';
import { openExcursionEvents } from './excursions.ts';
import { showLosses } from './power-loss.ts';
import type { PanelMoment } from './state.ts';
import { isLine, levelOf } from './supply.ts';
import { groupEvents, groupsOf } from './together.ts';
import { lastingContactOutage } from './unmetered.ts';

/** What stands: the open restart sequence, starts that others may still join, silent points, and the panel's power. */
export function showPanel(moment: PanelMoment, said: Output): Conclusion {
  const { state, context, out } = moment;
  showLosses(moment, said);
  for (const event of openExcursionEvents(moment)) out.event(tentatively(event));
  const outage = lastingContactOutage(moment);
  if (outage) out.event(tentatively(outage));
  const sequence = state.sequence && sequenceEvent(moment);
  if (sequence) out.event(tentatively(sequence));
  if (state.generator && !state.generator.over)
    out.event(tentatively(generatorEvent(moment, state.generator, null)));
  for (const group of groupsOf(moment, state.starts))
    for (const event of groupEvents(moment, group)) out.event(tentatively(event));
  for (const [key, { silentSince }] of Object.entries(state.points))
    if (silentSince !== null && isOwnKey(context.subject, key))
      if (!isGatewaysSilence(state.gateways, context, { key, since: silentSince, until: moment.t }))
        out.event(silentPoint(context.subject, key, silentSince, null));
  return { panel: standingOf(moment) };
}

function standingOf(moment: PanelMoment): PanelStanding {
  const { state } = moment;
  const line = Object.entries(state.points).find(([key]) => isLine(signalOfKey(key)));
  const generator = levelOf(state.points, 'generator-running');
  const restarting = Object.entries(state.sequence?.members ?? {})
    .filter(([, { outcome, back, loss }]) => outcome === 'waiting' && (back !== null || loss === null))
    .map(([id]) => id);
  return {
    ...powerOf(moment),
    lineVoltage: line?.[1].seen ?? null,
    generator: generator === null ? null : generator === 1,
    restarting: restarting.sort(),
    supplyEdges: state.supplyEdges,
  };
}

/** The panel's own points say it; else its units: all away is away, one powered is present. */
function powerOf({ state, place }: PanelMoment): Pick<PanelStanding, 'power' | 'since'> {
  const { supply } = state;
  if (supply.on !== null) return { power: supply.on ? 'present' : 'away', since: supply.since };
  const known = place.units
    .filter((unit) => wireOf(unit, 'power'))
    .flatMap(({ id }) => (state.units[id]?.power.on == null ? [] : [state.units[id]!.power]));
  if (known.length === 0) return { power: 'not-known', since: null };
  const on = known.some((power) => power.on);
  const since = known.filter((power) => power.on === on).map((power) => power.since);
  return { power: on ? 'present' : 'away', since: on ? first(since) : last(since) };
}

const seen = (spans: readonly (Span | null)[]): Span[] => spans.flatMap((span) => (span ? [span] : []));
const first = (spans: readonly (Span | null)[]): Span | null =>
  seen(spans).length < spans.length ? null : pick(seen(spans), Math.min);
const last = (spans: readonly (Span | null)[]): Span | null => pick(seen(spans), Math.max);

function pick(spans: readonly Span[], of: (...values: number[]) => number): Span | null {
  if (spans.length === 0) return null;
  return {
    earliest: of(...spans.map(({ earliest }) => earliest)),
    latest: of(...spans.map(({ latest }) => latest)),
  };
}
