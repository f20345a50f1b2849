import { inSeconds, type Instant } from '../../../shared/base/instant.ts';
import { isSignalName, signalRow } from '../../../shared/telemetry/signals.ts';
import { spokenLength } from '../../../shared/wire/durations.ts';
import type { GatewayTelemetry, PointTelemetry } from '../../../shared/wire/telemetry.ts';
import { valueText } from '../chart/rows.ts';
import type { Zone } from '../page/zone.ts';

/** How rates, ages and shares read. */

/** `12 a minute`, `0.2 a minute`, `3 an hour`, `none`. */
export function rateText(perMinute: number): string {
  if (perMinute === 0) return 'none';
  if (perMinute >= 0.1) return `${figure(perMinute)} a minute`;
  return `${figure(perMinute * 60)} an hour`;
}

const figure = (value: number): string =>
  value < 9.95 ? String(Number(value.toFixed(1))) : value.toFixed(0);

/** `12 s ago`; what lies in the future by this clock is now. */
export const agoText = (at: Instant, now: Instant): string => `${spokenLength(inSeconds(now - at))} ago`;

/** Late, or ahead of our clock: `4 min late`, `0.2 s late`, `3 s before it was due`. */
export function latenessText(seconds: number): string {
  const length = Math.abs(seconds);
  const text = length < 10 ? `${Number(length.toFixed(1))} s` : spokenLength(length);
  return seconds < -0.05 ? `${text} ahead of our clock` : `${text} late`;
}

/** Over the day; a point that hardly speaks has no rate. */
export function dayRate({ samples, seconds }: PointTelemetry['day']): number {
  return samples < 2 || seconds === 0 ? 0 : ((samples - 1) / seconds) * 60;
}

/** What of the looked-at samples decides nothing: `2 % uncertain, 1 in conflict`; empty: nothing. */
export function oddText({ samples, uncertain, bad, conflicts }: PointTelemetry['day']): string {
  const share = (count: number, word: string) => (count === 0 ? null : `${percent(count / samples)} ${word}`);
  return [
    share(uncertain, 'uncertain'),
    share(bad, 'bad'),
    conflicts === 0 ? null : `${conflicts} in conflict: two values for one instant`,
  ]
    .filter((part) => part !== null)
    .join(', ');
}

const percent = (share: number): string => {
  if (share >= 0.995) return share === 1 ? 'all' : 'nearly all';
  return share < 0.01 ? 'under 1 %' : `${Math.round(share * 100)} %`;
};

/** One line for a gateway's messages. */
export function gatewayText({ now, day }: GatewayTelemetry): string {
  if (!now && !day) return 'nothing came within a day';
  const rate = now ? `${rateText(now.perMinute)} now` : 'nothing in the last 10 min';
  const usual = day ? `${rateText(day.perMinute)} over the day` : null;
  return [rate, usual].filter((part) => part !== null).join(', ');
}

/** The trade's words for a signal, and for its value. */
export const signalText = (signal: string): string =>
  isSignalName(signal) ? signalRow(signal).name : signal.replaceAll('-', ' ');

export const valueOf = (signal: string, v: number): string =>
  isSignalName(signal) ? valueText(signal, v) : String(v);

/** `14:05:30`, with its day where that isn't today's. */
export function reachedText(at: Instant, now: Instant, zone: Zone): string {
  const day = zone.day(at);
  return day === zone.day(now) ? zone.seconds(at) : `${day}, ${zone.seconds(at)}`;
}
