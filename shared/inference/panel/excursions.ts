import type { Instant } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import type { ExcursionKind } from '../../power/excursion.ts';
import type { EventDraft } from '../event.ts';
import { excursionEvent } from './excursion-event.ts';
import { heldUpTo, isBack, isNeverBack, isOut, isWorse, KINDS, worstOf, type Look } from './look.ts';
import type { PanelMoment } from './state.ts';

/**
 * Sags, swells and interruptions of the panel's line voltage (handbook 5.1, IEC 61000-4-30), from whatever its meter
 * tells: half-cycle values, slow polls, intervals. The rules are the detector's (shared/power/detect.ts); here every change
 * lies in an interval, between the last look that didn't show it and the first that does, and what happened between two
 * looks isn't known: residual and duration become bounds.
 *
 * All rows of an instant are entered first, then looked at together, so that three channels told at once change at once.
 */
export interface VoltageWatch {
  readonly channels: Record<string, Channel>;
  readonly open: Record<ExcursionKind, OpenExcursion | null>;
}

export interface Channel {
  /** the newest look; null where it isn't known */
  look: Look | null;
  /** since when it has been known without a break; null: it isn't */
  since: Instant | null;
  /** since when every look has been back, by kind; null: the newest isn't */
  readonly back: Record<ExcursionKind, Instant | null>;
}

export interface OpenExcursion {
  start: Span;
  /** the worst that was seen, and the look that showed it */
  worst: Look;
  channels: string[];
  /** the end comes after this: the last time that it was seen not to be back */
  notBack: Instant;
  /** µs that no look covered, at most, from before the start on; null: what was before isn't known */
  gap: number | null;
  /** its beginning and its being one are certain */
  certain: boolean;
  /** intervals that held a change: in more than one it may have been back in between */
  mixed: number;
}

export const newVoltageWatch = (): VoltageWatch => ({
  channels: {},
  open: { interruption: null, sag: null, swell: null },
});

const newChannel = (): Channel => ({
  look: null,
  since: null,
  back: { interruption: null, sag: null, swell: null },
});

/** Enters what rows of this instant say; `looks` in any order. */
export function takeLooks(moment: PanelMoment, looks: readonly Look[]): void {
  const { voltage } = moment.state;
  const before = new Map(looks.map(({ key }) => [key, voltage.channels[key]?.look ?? null]));
  for (const look of looks) enter((voltage.channels[look.key] ??= newChannel()), look);
  for (const kind of KINDS) takeKind(moment, kind, looks, before);
}

function enter(channel: Channel, look: Look): void {
  channel.look = look;
  channel.since ??= look.from;
  for (const kind of KINDS)
    channel.back[kind] = isBack(kind, look) ? (channel.back[kind] ?? look.from) : null;
}

/** A channel isn't known from here on: what lasts may end and begin again unseen. */
export function loseChannel({ state }: PanelMoment, key: string): void {
  const channel = state.voltage.channels[key];
  if (!channel) return;
  channel.look = null;
  channel.since = null;
  for (const kind of KINDS) {
    channel.back[kind] = null;
    const open = state.voltage.open[kind];
    if (open?.channels.includes(key)) open.certain = false;
  }
}

type Before = ReadonlyMap<string, Look | null>;

function takeKind(moment: PanelMoment, kind: ExcursionKind, looks: readonly Look[], before: Before): void {
  const { open } = moment.state.voltage;
  const out = looks.filter((look) => isOut(kind, look));
  const was = open[kind];
  if (was) {
    for (const look of looks) carryOn(kind, was, look, before.get(look.key) ?? null);
  } else if (kind === 'interruption' ? isAllOut(moment) : out.length > 0) {
    open[kind] = begin(moment, kind, kind === 'interruption' ? looks : out, before);
  }
  const now = open[kind];
  if (now === null || !isOver(moment, kind)) return;
  const event = excursionEvent(moment, kind, now, endOf(moment, kind, now));
  if (kind === 'interruption') noteInterruption(moment, event);
  moment.out.event(event);
  open[kind] = null;
}

/** Was a meter of the panel listened to all the time since `from`? Then whatever it didn't see wasn't there. */
export const isMetered = ({ state }: PanelMoment, from: Instant): boolean =>
  Object.values(state.voltage.channels).some(({ since }) => since !== null && since <= from);

/** The last interruption that was told, so that it isn't told twice by different witnesses. */
export function noteInterruption(
  { state }: PanelMoment,
  { start, end }: Pick<EventDraft, 'start' | 'end'>,
): void {
  state.interrupted = { earliest: start.earliest, latest: (end ?? start).latest };
}

const channelsOf = ({ state, place }: PanelMoment): Channel[] =>
  place.points
    .filter(({ signal }) => signal.startsWith('line-voltage'))
    .map(({ device, signal }) => state.voltage.channels[`${device}/${signal}`] ?? newChannel());

/** An interruption is one of every channel [IEC 61000-4-30]; one that isn't known may have voltage. */
const isAllOut = (moment: PanelMoment): boolean =>
  channelsOf(moment).every(({ look }) => look !== null && isOut('interruption', look));

/** Every known channel is back, of an interruption any one; a look that holds both its beginning and its end ends nothing. */
function isOver(moment: PanelMoment, kind: ExcursionKind): boolean {
  const known = channelsOf(moment).filter(({ look }) => look !== null);
  const back = known.filter((channel) => channel.back[kind] !== null);
  return kind === 'interruption' ? back.length > 0 : known.length > 0 && back.length === known.length;
}

function begin(
  moment: PanelMoment,
  kind: ExcursionKind,
  looks: readonly Look[],
  before: Before,
): OpenExcursion {
  const [first, ...others] = looks.map((look) => startWith(kind, look, before.get(look.key) ?? null));
  const open = others.reduce((a, b) => joined(kind, a, b), first!);
  if (kind !== 'interruption') return open;
  // the last of all channels to go: those that had gone before lasted through this instant
  const certain =
    looks.length === channelsOf(moment).length || looks.every((look) => isNeverBack(kind, look));
  return {
    ...open,
    certain: open.certain && certain,
    channels: Object.keys(moment.state.voltage.channels).sort(),
  };
}

function startWith(kind: ExcursionKind, look: Look, before: Look | null): OpenExcursion {
  const holdsChange = !isNeverBack(kind, look);
  const seen = before ? lastedTo(kind, before, look) : look.from;
  const start = {
    earliest: Math.min(seen, look.from) - look.doubt,
    latest: (holdsChange ? look.to : look.from) + look.doubt,
  };
  return {
    start,
    worst: look,
    channels: [look.key],
    notBack: holdsChange ? look.from : look.to,
    gap: before === null ? null : Math.max(0, look.from - before.to),
    certain: before !== null,
    mixed: holdsChange ? 1 : 0,
  };
}

/** Until when what the look before showed lasted: to its own end, or on change to the next. */
const lastedTo = (kind: ExcursionKind, before: Look, look: Look): Instant =>
  heldUpTo(kind, before, look) ? look.from : before.to;

/** Two channels out at once: a sag is as early as the first of them, an interruption as late as the last. */
function joined(kind: ExcursionKind, a: OpenExcursion, b: OpenExcursion): OpenExcursion {
  const pick = kind === 'interruption' ? Math.max : Math.min;
  return {
    start: {
      earliest: pick(a.start.earliest, b.start.earliest),
      latest: pick(a.start.latest, b.start.latest),
    },
    worst: isWorse(kind, worstOf(kind, b.worst), worstOf(kind, a.worst)) ? b.worst : a.worst,
    channels: [...a.channels, ...b.channels].sort(),
    notBack: Math.max(a.notBack, b.notBack),
    gap: a.gap === null || b.gap === null ? null : Math.max(a.gap, b.gap),
    certain: a.certain && b.certain,
    mixed: Math.max(a.mixed, b.mixed),
  };
}

function carryOn(kind: ExcursionKind, open: OpenExcursion, look: Look, before: Look | null): void {
  const gap = before === null ? null : Math.max(0, look.from - before.to);
  open.gap = gap === null || open.gap === null ? null : Math.max(open.gap, gap);
  // one that holds a change may have been back before its end
  if (before && isNeverBack(kind, before))
    open.notBack = Math.max(open.notBack, lastedTo(kind, before, look));
  if (isBack(kind, look)) return;
  const holdsChange = !isNeverBack(kind, look);
  open.notBack = Math.max(open.notBack, holdsChange ? look.from : look.to);
  if (holdsChange) open.mixed++;
  if (isWorse(kind, worstOf(kind, look), worstOf(kind, open.worst))) open.worst = look;
  if (!isOut(kind, look) || open.channels.includes(look.key)) return;
  open.channels = [...open.channels, look.key].sort();
  // it may have been the first to go, unseen until now
  const since = before === null ? look.from : Math.min(lastedTo(kind, before, look), look.from);
  open.start = { ...open.start, earliest: Math.min(open.start.earliest, since) };
}

function endOf(moment: PanelMoment, kind: ExcursionKind, open: OpenExcursion): Span {
  const known = channelsOf(moment).flatMap(({ look, back }) =>
    look === null || back[kind] === null ? [] : [{ at: back[kind], doubt: look.doubt }],
  );
  const doubt = Math.max(0, ...known.map((one) => one.doubt));
  const at = known.map((one) => one.at);
  const latest = (kind === 'interruption' ? Math.min(...at) : Math.max(...at)) + doubt;
  // another channel's end may have gone by unseen since it was last looked at
  const unseen = kind === 'interruption' ? lastLooks(moment, kind) : open.notBack;
  const earliest = Math.max(open.start.earliest, Math.min(unseen, latest) - doubt);
  return { earliest, latest: Math.max(latest, earliest) };
}

/** The earliest of the channels' last looks that weren't back: after it that channel may have come back. */
const lastLooks = (moment: PanelMoment, kind: ExcursionKind): Instant =>
  channelsOf(moment).reduce(
    (least, { look, back }) =>
      look === null || back[kind] !== null || look.deadband !== null
        ? least
        : Math.min(least, isNeverBack(kind, look) ? look.to : look.from),
    moment.state.voltage.open[kind]!.notBack,
  );

/** What lasts, as it is known so far. */
export const openExcursionEvents = (moment: PanelMoment) =>
  KINDS.flatMap((kind) => {
    const open = moment.state.voltage.open[kind];
    return open ? [excursionEvent(moment, kind, open, null)] : [];
  });
