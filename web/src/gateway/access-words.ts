import type { Instant } from '../../../shared/base/instant.ts';
import { seconds } from '../../../shared/base/instant.ts';
import type { CredentialAnswer, GatewayAccess, RefusalAnswer } from '../../../shared/wire/gateway-access.ts';
import { refusalSays } from '../../../shared/wire/gateway-refusals.ts';
import { readInstant } from '../../../shared/wire/standing-wire.ts';
import type { Zone } from '../page/zone.ts';

const DAY = seconds(86_400);
/** So long ahead somebody is told. */
const SOON = 30 * DAY;

/** The page's first line: can every gateway connect, and was anybody turned away lately. */
export function accessLine({ gateways, refusals, broker }: GatewayAccess, now: Instant): string {
  const open = gateways.filter((one) => one.credentials.some(({ state }) => state === 'valid')).length;
  const lately = refusals.filter(({ lastAt }) => now - readInstant(lastAt) < DAY).length;
  const ending = gateways.flatMap((one) => one.credentials).filter((one) => endsSoon(one, now)).length;
  const none = broker.kind === 'embedded' && !broker.isTls ? ' On this machine they need none.' : '';
  const have =
    gateways.length === 1
      ? open === 1
        ? 'The gateway has what it connects by'
        : `The gateway has nothing yet to connect by.${none}`
      : `${open} of ${gateways.length} gateways have what they connect by`;
  const ends = ending === 0 ? '' : ` ${ending === 1 ? 'One ends' : `${ending} end`} within 30 days.`;
  const turned =
    lately === 0
      ? ' Nobody was turned away today.'
      : ` ${lately === 1 ? 'One was' : `${lately} were`} turned away today.`;
  return `${have.replace(/\.?$/, '.')}${ends}${turned}`;
}

/** What is entered in a gateway besides: where it connects to. */
export function brokerLine({ host, port, isTls, kind }: GatewayAccess['broker'], here: string): string {
  const reach =
    kind === 'embedded' && !isTls ? ', without TLS: from this machine alone' : isTls ? ', with TLS' : '';
  return `Entered in the gateway: MQTT to ${host ?? here}, port ${port}${reach}.`;
}

export const endsSoon = ({ endsAt, state }: CredentialAnswer, now: Instant): boolean =>
  state === 'valid' && endsAt !== null && readInstant(endsAt) - now < SOON;

/** "refused: gave a wrong password, 14 times since 11:02, from 192.0.2.7". */
export function refusalLine(one: RefusalAnswer, zone: Zone): string {
  const times = one.times === 1 ? 'once' : `${one.times} times`;
  const [first, last] = [readInstant(one.firstAt), readInstant(one.lastAt)];
  const when =
    one.times === 1
      ? `at ${zone.clock(last)} on ${zone.day(last)}`
      : `since ${zone.clock(first)} on ${zone.day(first)}, last at ${zone.clock(last)} on ${zone.day(last)}`;
  const from = one.address === '' ? '' : `, from ${one.address}`;
  return `${refusalSays(one.why)}, ${times} ${when}${from}`;
}

/** How it stands with a credential: since when, until when, when it was last used. */
export function credentialLine(one: CredentialAnswer, zone: Zone): string {
  const on = (text: string) => `${zone.day(readInstant(text))}, ${zone.clock(readInstant(text))}`;
  const ends =
    one.state === 'revoked'
      ? `revoked ${on(one.revokedAt!)}`
      : one.endsAt === null
        ? 'no end'
        : `${one.state === 'ended' ? 'ended' : 'ends'} ${on(one.endsAt)}`;
  const used =
    one.usedAt === null ? 'never used' : `last used ${on(one.usedAt)} from ${one.usedFrom ?? 'somewhere'}`;
  return `made ${on(one.madeAt)} by ${one.madeBy}; ${ends}; ${used}`;
}
