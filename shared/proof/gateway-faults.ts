import { inSeconds, seconds, type Instant } from '../base/instant.ts';
import type { Site } from '../telemetry/site.ts';
import { HAND_SECONDS } from './responses.ts';
import type { Fault, GatewayProof } from './session.ts';

/** A gateway whose clock is off against the people’s marks: late delivery can’t be taken for it, for it moves no claimed time. */
export function gatewayFaults(site: Site, gateways: readonly GatewayProof[], from: Instant): Fault[] {
  return gateways.flatMap(({ gateway, aheadSeconds: ahead }): Fault[] => {
    const known = site.gateways.find(({ id }) => id === gateway);
    if (!known || ahead === null || Math.abs(ahead) <= HAND_SECONDS + known.clockUncertaintySeconds)
      return [];
    const off = Math.round(Math.abs(ahead));
    return [
      {
        key: `clock:${gateway}`,
        kind: 'clock',
        on: [gateway],
        says: `Clock off: ${gateway} is ${off} s ${ahead > 0 ? 'ahead' : 'behind'}.`,
        because: [
          `Whatever was done here, its times show ${off} s ${ahead > 0 ? 'later' : 'earlier'}, each time alike.`,
        ],
        correction: { kind: 'clock', gateway, addSeconds: -Math.round(ahead), from: clockFrom(from, ahead) },
      },
    ];
  });
}

/** In claimed time, from a while before the session: what it told before may have been by a clock that was right. */
const clockFrom = (from: Instant, ahead: number): Instant =>
  Math.floor(inSeconds(from + seconds(ahead) - seconds(600))) * seconds(1);
