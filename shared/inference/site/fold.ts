import type { Instant } from '../../base/instant.ts';
import { exactly } from '../../base/span.ts';
import type { EventDraft } from '../event.ts';
import type { Fold, FoldContext } from '../fold.ts';
import {
  isGatewaysSilence,
  noteGateway,
  type GatewaySilences,
  type PointGap,
} from '../members/gateway-silence.ts';
import { ownPoint, takeKnowledge, takeReading, type OwnPoints } from '../members/own-points.ts';
import { dequeueInstant, type Item } from '../members/queue.ts';
import { taking, waitingFor } from '../members/taking.ts';
import { draftAbout, silentPoint } from '../subject-draft.ts';
import { BEGINNING } from '../horizon.ts';

/**
 * What is known of a site as a whole: stretches in which nobody was listening, between two watch marks, and silences of
 * the site's own points. Before the first mark the record was laid down by backfill, and after the last the fold's now
 * doesn't pass: neither is a gap.
 */
interface SiteState {
  readonly queue: Item[];
  readonly points: OwnPoints;
  readonly gateways: GatewaySilences;
  /** unwatched stretches that end at or before this have been told */
  told: Instant;
}

export const siteFold: Fold<SiteState> = {
  ...taking,
  kind: 'site',
  version: 3,
  start: () => ({ queue: [], points: {}, gateways: {}, told: BEGINNING }),
  waiting(state, context) {
    const unwatched = unwatchedAfter(context, state.told)[0]?.to ?? Infinity;
    return waitingFor(state.queue, unwatched);
  },
  settle(state, context, frontier, out) {
    while (state.queue.length > 0 && state.queue[0]!.t <= frontier)
      for (const item of dequeueInstant(state.queue, state.queue[0]!.t))
        apply(state, context, item, out.event);
    for (const gap of unwatchedAfter(context, state.told)) {
      if (gap.to > frontier) break;
      out.event(notWatched(context, gap.from, gap.to));
      state.told = gap.to;
    }
  },
  conclude(state, context, _frontier, now, out) {
    for (const item of state.queue) apply(state, context, item, out.event);
    for (const [key, { silentSince }] of Object.entries(state.points))
      if (silentSince !== null && isOwnSilence(state, context, { key, since: silentSince, until: now }))
        out.event(silentPoint(context.subject, key, silentSince, null));
    for (const gap of unwatchedAfter(context, state.told))
      if (gap.to <= now) out.event(notWatched(context, gap.from, gap.to));
    return {};
  },
};

function apply(state: SiteState, context: FoldContext, item: Item, tell: (event: EventDraft) => void): void {
  if (item.kind === 'edge' || item.kind === 'settings') return;
  if (item.kind === 'gateway-lost' || item.kind === 'gateway-back') {
    noteGateway(state.gateways, item.gateway, item.t, item.kind === 'gateway-back');
    return;
  }
  const own = ownPoint(state.points, item.key);
  if (item.kind === 'value') {
    takeReading(own, item, item.value === null ? null : 1);
    return;
  }
  const { key, t } = item;
  if (item.kind === 'back' && own.silentSince !== null)
    if (isOwnSilence(state, context, { key, since: own.silentSince, until: t }))
      tell(silentPoint(context.subject, key, own.silentSince, t));
  takeKnowledge(own, item);
}

const isOwnSilence = (state: SiteState, context: FoldContext, gap: PointGap): boolean =>
  !isGatewaysSilence(state.gateways, context, gap);

/** Stretches between two watch marks that end after `told`. */
function unwatchedAfter(
  { watch }: FoldContext,
  told: Instant,
): { readonly from: Instant; readonly to: Instant }[] {
  const { spans } = watch;
  return spans
    .slice(1)
    .map(({ from }, i) => ({ from: spans[i]!.to, to: from }))
    .filter(({ from, to }) => to > from && to > told);
}

const notWatched = (context: FoldContext, from: Instant, to: Instant): EventDraft =>
  draftAbout(context.subject, {
    kind: 'telemetry-gap',
    cause: 'not-watched',
    start: exactly(from),
    end: exactly(to),
    certainty: 'certain',
    causeCertainty: 'certain',
  });
