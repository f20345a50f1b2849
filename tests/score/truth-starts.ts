import { SECOND, seconds, type Instant } from '../../shared/base/instant.ts';
import type { Protection } from '../../shared/telemetry/site.ts';
import type { Stretch } from './trace.ts';
import { event, holding, leaning, type TrueEvent } from './true-event.ts';
import { changeAt, offBefore, type Facts } from './unit-facts.ts';

/** the widest that a span between two contacts may be on change; verdicts this near a limit may fall either way, s */
const NEAR = 0.5;

/** Short cycles and settings seen, which are judged at each start. */
export function startsOf(facts: Facts): TrueEvent[] {
  const found: TrueEvent[] = [];
  const mismatches: Mismatches = { open: new Map(), maybeOpen: new Set() };
  let tooMany = false;
  facts.runs.forEach((run, i) => {
    const before = facts.runs[i - 1];
    const protection = facts.protectionAt(run.from);
    const count = facts.runs.filter(
      ({ from }) => from <= run.from && run.from - from <= 3_600 * SECOND,
    ).length;
    const isTooMany = count > protection.startsPerHourLimit;
    const leansOn = facts.runs
      .slice(Math.max(0, i - 10), i + 1)
      .flatMap((one) => [...leaning('output', one), ...leaning('output', offBefore(facts, one.from))]);
    if (isTooMany)
      found.push(
        event({
          kind: 'short-cycle',
          cause: 'too-many-starts',
          start: run.from,
          end: run.from,
          discriminator: 'too-many-starts',
          needed: !tooMany,
          leansOn,
        }),
      );
    tooMany = isTooMany;
    if (before) found.push(...early(facts, before, run, protection));
    if (before) judgeSetting(facts, before, run, protection, mismatches, found);
  });
  return [...found, ...[...mismatches.open.values()].flat()];
}

interface Mismatches {
  /** by setting: what excludes the record since the bracket last held it */
  readonly open: Map<string, TrueEvent[]>;
  /** settings of which an earlier one may be seen to last */
  readonly maybeOpen: Set<string>;
}

/** When power came back between a stop and the start after it. */
const powerBack = ({ outages }: Facts, stop: Instant, start: Instant): Instant | null =>
  outages.findLast(({ from, to }) => to <= start && to >= stop && from < start)?.to ?? null;

/** When the call last broke between a stop and the start after it, the output already off. */
function lastBreak({ calls }: Facts, stop: Instant, start: Instant): Instant | null {
  return calls.findLast(({ to }) => to >= stop && to <= start)?.to ?? null;
}

function early(facts: Facts, before: Stretch, run: Stretch, protection: Protection): TrueEvent[] {
  const { offDelay, powerUpBase, powerUpShare, offDelayFrom, tolerance } = protection;
  if (offDelay.known !== 'recorded') return [];
  const back = powerBack(facts, before.to, run.from);
  const isPowerUpKnown = powerUpBase.known === 'recorded' && powerUpShare.known === 'recorded';
  if (back !== null && !isPowerUpKnown) return [];
  const planned = back === null ? offDelay.value : powerUpBase.value + powerUpShare.value * offDelay.value;
  const broken = offDelayFrom.value === 'stop' ? null : lastBreak(facts, before.to, run.from);
  const from = back ?? Math.max(before.to, broken ?? before.to);
  const limit = seconds(planned * (1 - tolerance));
  const counted = run.from - from;
  if (counted >= limit + seconds(NEAR)) return [];
  const fitsStop =
    back === null && offDelayFrom.value !== 'call' && run.from - before.to >= limit - seconds(NEAR);
  return [
    event({
      kind: 'short-cycle',
      cause: 'delay-not-kept',
      start: run.from,
      end: run.from,
      needed: counted < limit - seconds(NEAR) && !fitsStop,
      fitsPowerUp: back === null && isLikePowerUp(before, run, protection),
      leansOn: [
        ...leaning('output', before),
        ...leaning('output', { from: before.to, to: run.from }),
        ...leaning('output', run),
        // an interval of twice the period must lie clear of the limit
        ...leaning('output', { from: counted, to: limit + Math.max(0, limit - counted) / 2 }),
      ],
    }),
  ];
}

/** With a poll's width and a hand-set dial to spare. */
function isLikePowerUp(before: Stretch, run: Stretch, protection: Protection): boolean {
  const { powerUpBase, powerUpShare, offDelay, tolerance, settingError } = protection;
  const powerUp = powerUpBase.value + powerUpShare.value * offDelay.value;
  return run.from - before.to >= seconds(powerUp * (1 - tolerance) - settingError - 2 * POLL);
}

/** the longest poll that such a verdict is asked of, s */
const POLL = 5;

/** What one waited-for start says of a recorded delay (handbook 4 rule 8), with exact times. */
function judgeSetting(
  facts: Facts,
  before: Stretch,
  run: Stretch,
  protection: Protection,
  { open, maybeOpen }: Mismatches,
  found: TrueEvent[],
): void {
  const { offDelay, powerUpBase, powerUpShare, tolerance, settingError } = protection;
  if (offDelay.known !== 'recorded') return;
  const called = holding(facts.calls, run.from);
  if (!called || run.from - called.from < seconds(2 - NEAR)) return;
  const back = powerBack(facts, before.to, run.from);
  const setting = back === null ? 'offDelay' : 'powerUpDelay';
  if (back !== null && !(powerUpBase.known === 'recorded' && powerUpShare.known === 'recorded')) return;
  const cause = changeAt(facts, 'stopped', before.to)?.reason.code;
  const recorded = back === null ? offDelay.value : powerUpBase.value + powerUpShare.value * offDelay.value;
  const broken = back === null ? lastBreak(facts, before.to, run.from) : null;
  const gap = (run.from - (back ?? Math.max(before.to, broken ?? 0))) / SECOND;
  const waited = run.from - called.from > seconds(2 + NEAR);
  const isPlain =
    waited &&
    (back !== null || (cause !== 'undervoltage' && (broken === null || broken - before.to < SECOND)));
  const off = Math.abs(gap - recorded) - Math.max(recorded * tolerance, settingError);
  const standing = open.get(setting) ?? [];
  const fitsPowerUp = back === null && isLikePowerUp(before, run, protection);
  // counted from a break, or from the call's return: only a gap that both exclude may be told
  if (off <= -NEAR && isPlain) {
    found.push(...standing);
    // where power isn't seen throughout, so long an off time may not have ended what was seen before
    if (!fitsPowerUp) maybeOpen.delete(setting);
    else if (standing.length > 0) maybeOpen.add(setting);
    open.delete(setting);
    return;
  }
  const leansOn = [
    ...leaning('output', { from: before.to, to: run.from }),
    ...leaning('output', run),
    ...leaning('output', { from: 0, to: seconds(off / 2) }),
    // that the call waited, two seconds at least, is seen by two polls of it
    ...leaning('call', { from: called.from, to: (called.from + run.from - seconds(2)) / 2 }),
    // that it was the other delay is told by the outage alone
    ...leaning('volts', back === null ? undefined : facts.outages.findLast(({ to }) => to === back)),
  ];
  const parts = { kind: 'setting-mismatch', cause: null, start: run.from, discriminator: setting } as const;
  const orFrom = standing.map(({ start }) => start);
  const needed = isPlain && off > NEAR && !standing.some((one) => one.needed);
  const one = { ...parts, end: undefined, needed, leansOn, orFrom };
  open.set(setting, [...standing, event({ ...one, fitsPowerUp: fitsPowerUp || maybeOpen.has(setting) })]);
}
