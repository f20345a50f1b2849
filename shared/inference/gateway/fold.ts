import type { Instant } from '../../base/instant.ts';
import type { Fold } from '../fold.ts';
import { silentGateway } from '../subject-draft.ts';

/**
 * When was a gateway silent that had promised heartbeats (handbook 3)? The driver counts the watched time; a gap is settled
 * by the next life. A gateway that promised nothing is never silent.
 */
interface GatewayState {
  /** last life before the silence that lasts */
  since: Instant | null;
  lastLife: Instant | null;
  /** gaps that the next life has closed and that aren't told yet */
  closed: { readonly since: Instant; readonly until: Instant }[];
}

export const gatewayFold: Fold<GatewayState> = {
  kind: 'gateway',
  version: 3,
  start: () => ({ since: null, lastLife: null, closed: [] }),
  take() {
    // a gateway has no points of its own
  },
  takeLife(state, _context, t) {
    state.lastLife = t;
  },
  silent(state, _context, _source, at) {
    state.since = at;
  },
  resumed(state, _context, _source, at) {
    if (state.since !== null) state.closed.push({ since: state.since, until: at });
    state.since = null;
  },
  reconfigured() {
    // the promised period is the driver's to read
  },
  waiting: (state) => state.closed[0]?.until ?? null,
  settle(state, context, frontier, out) {
    for (const { since, until } of state.closed.filter((gap) => gap.until <= frontier))
      out.event(silentGateway(context.subject, since, until));
    state.closed = state.closed.filter((gap) => gap.until > frontier);
  },
  conclude(state, context, _frontier, _now, out) {
    for (const { since, until } of state.closed) out.event(silentGateway(context.subject, since, until));
    if (state.since !== null) out.event(silentGateway(context.subject, state.since, null));
    return { gateway: { lastLife: state.lastLife, silentSince: state.since } };
  },
};
