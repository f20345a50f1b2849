import type { ChannelAnswer, DeliveryAnswer, OnCallAnswer } from '../../../shared/wire/on-call-answer.ts';
import { readInstant } from '../../../shared/wire/standing-wire.ts';
import { zoneNamed } from '../page/zone.ts';

/** The page's first line: who answers now, and is there anything to mend. */
export function onCallAnswer(now: OnCallAnswer, name: (person: string | null) => string): string {
  if (now.rosters.length === 0)
    return now.hindrances.length === 0
      ? 'There is no roster: the policy asks people by name.'
      : 'Nobody is on call: there is no roster yet.';
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

interface KindWords {
  readonly name: string;
  /** what its address is */
  readonly address: string;
  /** who has taken a message that is "accepted" */
  readonly station: string;
  /** how whoever runs this server switches it on; null: it always is */
  readonly switchOn: string | null;
}

export const CHANNEL_WORDS: Record<ChannelAnswer['kind'], KindWords> = {
  'e-mail': {
    name: 'e-mail',
    address: 'Address',
    station: 'the mail server',
    switchOn: 'SMTP_URL and MAIL_FROM',
  },
  webhook: { name: 'webhook', address: 'Address', station: 'its receiver', switchOn: null },
  'web-push': {
    name: 'message to a device',
    address: 'Device',
    station: 'the push service of its browser',
    switchOn: null,
  },
  'short-message': {
    name: 'short message',
    address: 'Number',
    station: 'the gateway for short messages',
    switchOn: 'SMS_URL',
  },
  voice: { name: 'call', address: 'Number', station: 'the gateway for calls', switchOn: 'VOICE_URL' },
};

/** What came of a message, for what it is. */
export function deliveryWords({ state, kind }: Pick<DeliveryAnswer, 'state' | 'kind'>): string {
  switch (state) {
    case 'waiting':
      return 'waits to be sent';
    case 'accepted':
      return `accepted by ${CHANNEL_WORDS[kind].station}; that isn’t delivered`;
    case 'given-up':
      return 'given up';
    case 'overtaken':
      return 'not sent: nobody needed it any more';
  }
}

export const ESCALATION_WORDS: Record<OnCallAnswer['escalations'][number]['state'], string> = {
  held: 'held until the night is over',
  paging: 'people are being called',
  owned: 'somebody is on it',
  exhausted: 'everybody was called and nobody answered',
  over: 'over',
};
