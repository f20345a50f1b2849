import { seconds, type Instant } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import { valueBy, type Edge } from '../track.ts';
import type { Belief, Mismatch } from './belief.ts';
import { draft, saw, tell, type Moment } from './moment.ts';

/**
 * Contactor and compressor (handbook 4 rule 9): current with no output, or output and no current, for more than 2 s.
 * Needs the output and the current of the compressor's own conductor, both wired.
 */
const GRACE = seconds(2);

export function currentOrOutputChanged(moment: Moment, edge: Edge): void {
  const { belief, wiring } = moment;
  if (!wiring.byRole.current || wiring.runsFrom === 'compressor-current') return;
  const at: Span = { earliest: edge.earliest, latest: edge.latest };
  const kind = contradiction(moment, at.latest);
  if (belief.mismatch?.kind === kind) return;
  endMismatch(moment, at);
  if (kind) belief.mismatch = { kind, since: at, cause: causeOf(moment, kind, edge) };
}

function contradiction({ belief }: Moment, at: Instant): Mismatch['kind'] | null {
  const output = valueBy(belief.tracks.output, at);
  const current = valueBy(belief.tracks.current, at);
  if (output === 0 && current === 1) return 'stuck-contactor';
  if (output === 1 && current === 0) return 'failed-start';
  return null;
}

/** The current was never there since the start, or it went while the output stayed. */
function causeOf(moment: Moment, kind: Mismatch['kind'], edge: Edge): Mismatch['cause'] {
  if (kind === 'stuck-contactor') return null;
  const { edges } = moment.belief.tracks.output;
  return edges.some(({ latest, to }) => to === 1 && latest === edge.latest) ? 'at-start' : 'in-run';
}

/** When the mismatch has lasted for longer than the grace; null if nothing waits. */
export const contradictedAt = (
  mismatch: Mismatch | null,
  contradicted: Belief['contradicted'],
): Instant | null => (mismatch && contradicted === 'not-yet' ? mismatch.since.latest + GRACE : null);

export function contradicted(moment: Moment): void {
  const { belief } = moment;
  belief.contradicted = moment.tentative ? 'tentatively' : 'surely';
  if (belief.mismatch!.kind === 'failed-start') tell(moment, 'failed', belief.mismatch!.since);
}

function endMismatch(moment: Moment, end: Span): void {
  const { belief } = moment;
  const { mismatch } = belief;
  if (!mismatch) return;
  if (belief.contradicted !== 'not-yet') {
    moment.out.event(mismatchEvent(moment, mismatch, end));
    if (mismatch.kind === 'failed-start') tell(moment, 'recovered', end);
  }
  belief.mismatch = null;
  belief.contradicted = 'not-yet';
}

export function mismatchEvent(moment: Moment, mismatch: Mismatch, end: Span | null) {
  const stuck = mismatch.kind === 'stuck-contactor';
  const says = stuck ? 'current flowed with the output off' : 'no current with the output on';
  const tripped =
    stuck && [moment.belief.tracks.high, moment.belief.tracks.low].some((track) => track.raw === 1);
  return draft(
    moment,
    {
      kind: mismatch.kind,
      cause: mismatch.cause,
      start: mismatch.since,
      end,
      certainty: 'certain',
      causeCertainty: mismatch.cause ? 'certain' : null,
      pending: [],
      measures: stuck ? { withPressureTrip: tripped ? 1 : 0 } : {},
      candidates: [],
      evidence: [saw(moment, 'current', mismatch.since.latest, stuck ? 1 : 0, says)],
    },
    { tentative: moment.belief.contradicted === 'tentatively' },
  );
}
