import type { Instant } from '../base/instant.ts';

/** A finding about a gateway's clock as one sentence, for the page, the interface and notices. */
export interface ClockFacts {
  readonly gateway: string;
  readonly against: string | null;
  readonly aheadSeconds: readonly [number, number];
  readonly certainty: 'certain' | 'probable' | 'possible';
  readonly whose: 'shown' | 'either';
  /** how many shared voltage edges show it */
  readonly edges: number;
  readonly byArrival: boolean;
  /** null: always */
  readonly from: Instant | null;
  readonly offsetSeconds: number;
}

export function clockSentence(facts: ClockFacts, when: (instant: Instant) => string): string {
  return `${differenceText(facts)} ${remedyText(facts, when)}`;
}

function differenceText(facts: ClockFacts): string {
  const { gateway, against, edges, byArrival } = facts;
  const ahead = (facts.aheadSeconds[0] + facts.aheadSeconds[1]) / 2;
  const by = `about ${lengthText(Math.abs(ahead))} ${ahead > 0 ? 'ahead of' : 'behind'}`;
  if (against === null) return arrivalText(gateway, by, ahead);
  const seen = `seen at ${edges} shared voltage ${edges === 1 ? 'edge' : 'edges'}`;
  if (facts.whose === 'either') {
    const doubt = facts.certainty === 'possible' ? ' – or these were two outages of one length' : '';
    return `Gateway ${gateway}’s clock is ${by} ${against}’s, ${seen}${doubt}. Which of the two is off can’t be told from this.`;
  }
  const also = byArrival ? ', and by when its messages arrive' : '';
  return `Gateway ${gateway}’s clock is ${by} ${against}’s, ${seen}${also}.`;
}

function arrivalText(gateway: string, by: string, ahead: number): string {
  if (ahead > 0)
    return `Gateway ${gateway}’s clock is ${by} ours: its messages arrive that much before the time they claim.`;
  return `Gateway ${gateway}’s clock is probably ${by} ours: no message comes sooner than that. Or its uplink holds everything back by as much.`;
}

function remedyText(
  { gateway, against, whose, from, offsetSeconds }: ClockFacts,
  when: (at: Instant) => string,
) {
  const since = from === null ? 'for all time' : `from ${when(from)}`;
  const offset = `${offsetSeconds < 0 ? '−' : ''}${Math.abs(offsetSeconds)} s`;
  if (whose === 'shown') return `Set its offset to ${offset} ${since}.`;
  return `If it is ${gateway}’s, set its offset to ${offset} ${since}; if ${against}’s, the opposite.`;
}

/** `45 s`, `3 min 20 s`, `1 h 2 min` */
function lengthText(length: number): string {
  const whole = Math.round(length);
  const [hours, minutes, rest] = [Math.floor(whole / 3600), Math.floor((whole % 3600) / 60), whole % 60];
  const parts = [hours && `${hours} h`, minutes && `${minutes} min`, (rest || whole === 0) && `${rest} s`];
  return parts.filter(Boolean).join(' ');
}
