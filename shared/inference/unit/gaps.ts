import type { Instant } from '../../base/instant.ts';
import type { EventDraft } from '../event.ts';
import type { FoldContext, Output } from '../fold.ts';
import { isGatewaysSilence } from '../members/gateway-silence.ts';
import { silentPoint } from '../subject-draft.ts';
import type { Belief } from './belief.ts';
import { wiringAt } from './wiring.ts';

/** Silences of a unit's own polled points (handbook 3), where they aren't their gateway's. */

/** The point is heard again. */
export function closeGap(belief: Belief, key: string, at: Instant): void {
  const since = belief.gaps[key];
  if (since === undefined) return;
  belief.gapsOver.push({ key, since, until: at });
  belief.gaps = Object.fromEntries(Object.entries(belief.gaps).filter(([gap]) => gap !== key));
}

/** Those that were over by `by`. */
export function tellGaps(belief: Belief, context: FoldContext, by: Instant, out: Output): void {
  for (const { key, since, until } of belief.gapsOver.filter((gap) => gap.until <= by))
    if (!isGatewaysSilence(belief.gateways, context, { key, since, until }))
      out.event(gapEvent(context, key, since, until));
  belief.gapsOver = belief.gapsOver.filter((gap) => gap.until > by);
}

/** Those that last. */
export function showGaps(belief: Belief, context: FoldContext, now: Instant, out: Output): void {
  for (const [key, since] of Object.entries(belief.gaps))
    if (!isGatewaysSilence(belief.gateways, context, { key, since, until: now }))
      out.event(gapEvent(context, key, since, null));
}

function gapEvent(context: FoldContext, key: string, since: Instant, until: Instant | null): EventDraft {
  const unit = wiringAt(context, since)?.unit;
  const about = { panel: unit?.panel ?? null, unit: context.subject.device, space: unit?.space ?? null };
  return { ...silentPoint(context.subject, key, since, until), ...about };
}
