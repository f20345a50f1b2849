import { SECOND, type Instant } from '../base/instant.ts';
import { drift } from './noise.ts';
import type { Weather } from './plan.ts';

const DAY = 86_400 * SECOND;
const WARMTH = 1;
const CLOUDS = 2;

/** Hours since local midnight, and the day's number. */
export function localHour(
  t: Instant,
  utcOffsetHours: number,
): { readonly hour: number; readonly day: number } {
  const local = t / DAY + utcOffsetHours / 24;
  const day = Math.floor(local);
  return { hour: (local - day) * 24, day };
}

/** The offset from UTC at which `t` is this hour of this weekday (Monday 0): a scenario begins in its own hour. */
export function offsetFor(t: Instant, weekday: number, hour: number): number {
  const { day, hour: utcHour } = localHour(t, 0);
  const utcWeekday = (((day + 3) % 7) + 7) % 7;
  return (weekday - utcWeekday) * 24 + hour - utcHour;
}

/** Outdoor °C: a daily swing, on days that differ a little from each other. */
export function outdoorTemperature(
  weather: Weather,
  seed: number,
  utcOffsetHours: number,
  t: Instant,
): number {
  const { hour, day } = localHour(t, utcOffsetHours);
  const daily = weather.swing * Math.cos((2 * Math.PI * (hour - weather.hottestHour)) / 24);
  const byDay = weather.dayVariation * (2 * drift(seed, WARMTH, day + hour / 24) - 1);
  return weather.mean + daily + byDay;
}

/** Share of full sun: up at six, down at nineteen, dimmed by the day's clouds. */
export function sunShare(seed: number, utcOffsetHours: number, t: Instant): number {
  const { hour, day } = localHour(t, utcOffsetHours);
  const height = Math.sin((Math.PI * (hour - 6)) / 13);
  return hour < 6 || hour > 19 ? 0 : height * (0.6 + 0.4 * drift(seed, CLOUDS, day + hour / 24));
}
