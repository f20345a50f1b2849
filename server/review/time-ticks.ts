import { seconds, type Instant } from '../../shared/base/instant.ts';
import { wallOf } from '../../shared/people/wall-time.ts';
import { secondText } from '../../shared/wire/review-words.ts';

/** Round steps of wall time, seconds; the first that leaves no more than so many ticks. */
const STEPS = [5, 10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10_800, 21_600, 43_200, 86_400];
const MOST = 9;

/** Ticks of a printed time axis at round wall times of a zone. */
export function timeTicks(from: Instant, to: Instant, zone: string): { at: Instant; label: string }[] {
  const step = STEPS.find((one) => (to - from) / seconds(one) <= MOST) ?? STEPS.at(-1)!;
  const { hour, minute, second } = wallOf(from, zone);
  const past = (hour * 3600 + minute * 60 + second) % step;
  const whole = Math.floor(from / seconds(1)) * seconds(1);
  const first = whole - seconds(past) + (past === 0 && whole === from ? 0 : seconds(step));
  const ticks: { at: Instant; label: string }[] = [];
  for (let at = first; at <= to; at += seconds(step)) {
    const text = secondText(at, zone);
    ticks.push({ at, label: step < 60 ? text : text.slice(0, 5) });
  }
  return ticks;
}
