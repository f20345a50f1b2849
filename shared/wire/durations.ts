import type { Bounds, Span } from '../base/span.ts';
import { inSeconds, type Instant } from '../base/instant.ts';

/**
 * Lengths of time as people read them, in the page, on drawings and in notices. Everything takes seconds; what is only
 * known as an interval is written as one ("1:10–1:20"), never as its middle (handbook 3).
 */

const two = (value: number): string => String(value).padStart(2, '0');

/** What counts down or up: `1:23`, `0:08`, `1:02:03`. Whole seconds, rounded down. */
export function clockLength(seconds: number): string {
  const whole = Math.max(0, Math.floor(seconds));
  const minutes = Math.floor(whole / 60);
  return minutes < 60
    ? `${minutes}:${two(whole % 60)}`
    : `${Math.floor(minutes / 60)}:${two(minutes % 60)}:${two(whole % 60)}`;
}

/** As a drawing's dimension is written: `0.33 s`, `41 s`, `3:30`, `2 h 05 min`, `3 d 4 h`. */
export function drawnLength(seconds: number): string {
  if (seconds < 10) return `${trimmed(seconds)} s`;
  const whole = Math.round(seconds);
  if (whole < 60) return `${whole} s`;
  if (whole < 3600) return clockLength(whole);
  return longLength(whole);
}

/** As it is said in a sentence: `4 s`, `12 min`, `3 h 5 min`, `2 days`. Rounded down, as an age is. */
export function spokenLength(seconds: number): string {
  const whole = Math.max(0, Math.floor(seconds));
  if (whole < 60) return `${whole} s`;
  if (whole < 3600) return `${Math.floor(whole / 60)} min`;
  if (whole < 48 * 3600) return hoursAndMinutes(whole, String);
  return `${Math.floor(whole / 86_400)} days`;
}

/** An interval in the given way of writing; one value where both ends read the same; the measure once if shared. */
export function lengthBetween([low, high]: Bounds, write: (seconds: number) => string): string {
  const [from, to] = [signed(write(low)), signed(write(high))];
  if (from === to) return to;
  if (low < 0) return `${from.replace(/ [a-z]+$/, '')} to ${to}`;
  const [figure, measure] = from.split(' ');
  return measure !== undefined && from.split(' ').length === 2 && to.endsWith(` ${measure}`)
    ? `${figure}–${to}`
    : `${from}–${to}`;
}

/** A minus that isn't taken for a dash. */
const signed = (text: string): string => text.replace(/^-/, '−');

/** How long ago an uncertain instant was, as it is said. */
export const spokenAge = (since: Span, now: Instant): string =>
  lengthBetween([inSeconds(now - since.latest), inSeconds(now - since.earliest)], spokenLength);

function longLength(seconds: number): string {
  if (seconds < 48 * 3600) return hoursAndMinutes(seconds, two);
  const hours = Math.floor((seconds % 86_400) / 3600);
  return `${Math.floor(seconds / 86_400)} d${hours ? ` ${hours} h` : ''}`;
}

function hoursAndMinutes(seconds: number, write: (minutes: number) => string): string {
  const minutes = Math.floor((seconds % 3600) / 60);
  return `${Math.floor(seconds / 3600)} h${minutes ? ` ${write(minutes)} min` : ''}`;
}

/** At most two figures that mean something: 0.33, 4.2, 9. */
const trimmed = (seconds: number): string =>
  String(seconds < 1 ? Math.round(seconds * 100) / 100 : Math.round(seconds * 10) / 10);
