import type { Instant } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import type { EventCause } from '../event.ts';
import { edgesIn, valueBy, type Edge } from '../track.ts';
import { begunOf, neverTold, nowTold, turn, type Lasting } from './lasting.ts';
import { draft, saw, tell, type Moment } from './moment.ts';

/**
 * Contactor and compressor (handbook 4 rule 9): current with no output, or output and no current, for more than 2 s.
 * Needs the output and the current of the compressor's own conductor, both wired.
 */
type Contradiction = 'stuck-contactor' | 'failed-start';

export function conductorChanged(moment: Moment, edge: Edge): void {
  const { wiring } = moment;
  if (!wiring.byRole.current || wiring.runsFrom === 'compressor-current') return;
  const at: Span = { earliest: edge.earliest, latest: edge.latest };
  const what = contradiction(moment, at.latest);
  const ended = turn(moment, 'conductor', what, what && causeOf(moment, what, edge), at);
  if (!ended) return;
  moment.out.event(conductorEvent(moment, ended, at));
  if (ended.what === 'failed-start') tell(moment, 'recovered', at);
}

function contradiction({ belief }: Moment, at: Instant): Contradiction | null {
  const output = valueBy(belief.tracks.output, at);
  const current = valueBy(belief.tracks.current, at);
  if (output === 0 && current === 1) return 'stuck-contactor';
  if (output === 1 && current === 0) return 'failed-start';
  return null;
}

/** The current was never there since the start, or it went while the output stayed. */
function causeOf(moment: Moment, what: Contradiction, edge: Edge): EventCause | null {
  if (what === 'stuck-contactor') return null;
  const { edges } = moment.belief.tracks.output;
  return edges.some(({ latest, to }) => to === 1 && latest === edge.latest) ? 'at-start' : 'in-run';
}

export function conductorLasted(moment: Moment, at: Instant): void {
  const { output, current } = moment.belief.tracks;
  // between two polls it may have ended sooner: that it lasted wasn't seen
  if (edgesIn(output, at, at).length + edgesIn(current, at, at).length > 0)
    return neverTold(moment, 'conductor');
  const { what, since } = nowTold(moment, 'conductor');
  if (what === 'failed-start') tell(moment, 'failed', since);
}

export function conductorEvent(moment: Moment, found: Lasting, end: Span | null) {
  const stuck = found.what === 'stuck-contactor';
  const says = stuck ? 'current flowed with the output off' : 'no current with the output on';
  const { high, low } = moment.belief.tracks;
  const tripped = [high, low].some((track) => valueBy(track, found.since.latest) === 1);
  return draft(
    moment,
    {
      kind: found.what as Contradiction,
      cause: found.cause,
      start: found.since,
      end,
      certainty: 'certain',
      causeCertainty: found.cause ? 'certain' : null,
      pending: [],
      measures: stuck ? { withPressureTrip: tripped ? 1 : 0 } : {},
      candidates: [],
      evidence: [saw(moment, 'current', found.since.latest, stuck ? 1 : 0, says)],
    },
    begunOf(found),
  );
}
