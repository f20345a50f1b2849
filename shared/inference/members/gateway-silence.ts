import { seconds, type Instant } from '../../base/instant.ts';
import type { FoldContext } from '../fold.ts';
import { SILENT_PERIODS } from '../horizon.ts';

/**
 * Whose silence is it (handbook 3)? A gateway that promised heartbeats and is silent explains why nothing comes of its
 * polled points: that is one event, the gateway's own, and not one for each point. A point is silent by itself where its
 * gateway lived on for three of its periods before or after.
 */
export interface GatewaySilence {
  readonly since: Instant;
  readonly until: Instant | null;
  /** the one before, which a point's gap may still belong to when the next has begun */
  readonly before?: GatewaySilence;
}

/** The last silences of each gateway, by its id. */
export type GatewaySilences = Record<string, GatewaySilence>;

export function noteGateway(silences: GatewaySilences, gateway: string, at: Instant, lives: boolean): void {
  const open = silences[gateway];
  const before = open && { since: open.since, until: open.until };
  if (!lives) silences[gateway] = { since: at, until: null, ...(before ? { before } : {}) };
  else if (open?.until === null) silences[gateway] = { ...open, until: at };
}

export interface PointGap {
  readonly key: string;
  readonly since: Instant;
  /** the point's next sample; while there is none, now */
  readonly until: Instant;
}

/** Is the silence of a polled point its gateway's? */
export function isGatewaysSilence(
  silences: GatewaySilences,
  { sources }: FoldContext,
  { key, since, until }: PointGap,
): boolean {
  const point = sources.find((source) => source.key === key)?.point;
  const silence = point && silences[point.gateway];
  if (!silence || point.reporting.mode !== 'polled') return false;
  const room = seconds(SILENT_PERIODS * point.reporting.seconds);
  return covers(silence, since, until, room) || covers(silence.before, since, until, room);
}

const covers = (silence: GatewaySilence | undefined, since: Instant, until: Instant, room: number): boolean =>
  !!silence &&
  silence.since <= since + room &&
  (silence.until === null || (silence.until >= since && until <= silence.until + room));
