import type { DeliveryAnswer, OnCallAnswer } from '../../../shared/wire/on-call-answer.ts';
import { readInstant } from '../../../shared/wire/standing-wire.ts';
import { zoneNamed } from '../page/zone.ts';

/** The page's first line: who answers now, and is there anything to mend. */
export function onCallAnswer(now: OnCallAnswer, name: (person: string | null) => string): string {
  if (now.rosters.length === 0) return 'Nobody is on call: there is no roster yet.';
  const on = now.rosters.map(({ name: roster, person, until, zone }) => {
    const who = person === null ? 'Nobody is' : `${name(person)} is`;
    const end = until === null ? '' : ` until ${momentText(until, zone)}`;
    return `${who} on call${now.rosters.length > 1 ? ` for ${roster}` : ''}${end}`;
  });
  const gaps = now.rosters.reduce((sum, { gaps: own }) => sum + own.length, 0);
  const holes =
    gaps === 0 ? 'no gap in 30 days' : `${gaps} ${gaps === 1 ? 'gap' : 'gaps'} in the next 30 days`;
  return `${on.join('; ')}; ${holes}.`;
}

/** `Mon 9 Mar, 08:00` on the wall of the roster's zone */
export function momentText(instant: string, zoneName: string): string {
  const zone = zoneNamed(zoneName);
  const at = readInstant(instant);
  return `${zone.day(at)}, ${zone.clock(at)}`;
}

/** What came of a message, for what it is. */
export const DELIVERY_WORDS: Record<DeliveryAnswer['state'], string> = {
  waiting: 'waits to be sent',
  accepted: 'accepted by the next station; that isn’t delivered',
  'given-up': 'given up',
  overtaken: 'not sent: nobody needed it any more',
};

export const ESCALATION_WORDS: Record<OnCallAnswer['escalations'][number]['state'], string> = {
  held: 'held until the night is over',
  paging: 'people are being called',
  owned: 'somebody is on it',
  exhausted: 'everybody was called and nobody answered',
  over: 'over',
};
