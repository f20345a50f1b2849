import type { Instant } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import type { Certainty, EventCause } from '../event.ts';
import { edgesIn, sinceOf, valueBy, type Edge } from '../track.ts';
import { begunOf, cannotTell, neverTold, nowTold, turn, type Lasting } from './lasting.ts';
import { doubtful, draft, saw, tell, type Moment } from './moment.ts';

/**
 * Contactor and compressor (handbook 4 rule 9): current with no output, or output and no current, for more than 2 s.
 * Needs the output and the current of the compressor's own conductor, both wired.
 */
type Contradiction = 'stuck-contactor' | 'failed-start';

export function conductorChanged(moment: Moment, role: 'output' | 'current', edge: Edge): void {
  const { wiring } = moment;
  if (!wiring.byRole.current || wiring.runsFrom === 'compressor-current') return;
  const at: Span = { earliest: edge.earliest, latest: edge.latest };
  const what = contradiction(moment, at.latest);
  if (what === 'not-known') return cannotTell(moment, 'conductor', at);
  const since = sinceOf(moment.belief.tracks[role], edge);
  const ended = turn(moment, 'conductor', what && { what, since, heard: at, ...causeOf(moment, what, edge) });
  if (!ended) return;
  moment.out.event(conductorEvent(moment, ended, doubtful(since, ended.doubtFrom)));
  if (ended.what === 'failed-start') tell(moment, 'recovered', at);
}

function contradiction({ belief }: Moment, at: Instant): Contradiction | 'not-known' | null {
  const output = valueBy(belief.tracks.output, at);
  const current = valueBy(belief.tracks.current, at);
  if (output === null || current === null) return 'not-known';
  if (output === 0 && current === 1) return 'stuck-contactor';
  if (output === 1 && current === 0) return 'failed-start';
  return null;
}

/**
 * The current was never there since the start, or it went while the output stayed. Between two polls of it the current may
 * have come and gone; what is first seen after a stretch in which nothing was known may be either.
 */
function causeOf(
  moment: Moment,
  what: Contradiction,
  edge: Edge,
): { cause: EventCause | null; causeCertainty: Certainty } {
  if (what === 'stuck-contactor') return { cause: null, causeCertainty: 'possible' };
  const { edges } = moment.belief.tracks.output;
  const start = edges.some(({ latest, to }) => to === 1 && latest === edge.latest);
  const cause = start ? 'at-start' : 'in-run';
  if (edge.from === null) return { cause, causeCertainty: 'possible' };
  const seen = moment.wiring.byRole.current!.onChange;
  return { cause, causeCertainty: seen || !start ? 'certain' : 'probable' };
}

export function conductorLasted(moment: Moment, at: Instant): void {
  const { output, current } = moment.belief.tracks;
  // between two polls it may have ended sooner: that it lasted wasn't seen
  if (edgesIn(output, at, at).length + edgesIn(current, at, at).length > 0)
    return neverTold(moment, 'conductor');
  const { what, heard } = nowTold(moment, 'conductor');
  if (what === 'failed-start') tell(moment, 'failed', heard);
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
      causeCertainty: found.cause && found.causeCertainty,
      pending: [],
      measures: stuck ? { withPressureTrip: tripped ? 1 : 0 } : {},
      candidates: [],
      evidence: [saw(moment, 'current', found.since.latest, stuck ? 1 : 0, says)],
    },
    begunOf(found),
  );
}
