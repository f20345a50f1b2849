import { seconds, type Instant } from '../../base/instant.ts';
import type { EventDraft } from '../../inference/event.ts';
import type { Site } from '../../telemetry/site.ts';
import type { Command } from '../alarm.ts';
import { decideAlarms } from '../decide.ts';
import { NO_ALARMS, type SiteAlarms } from '../given.ts';
import { repairsIn, type Repair } from '../repair.ts';
import { ALARM_RULE_IDS, alarmRule, LOOK_BACK } from '../rules.ts';
import type { Tuning } from '../tuning.ts';
import type { JournalLine } from './announced.ts';
import type { Stretch } from './rates.ts';

/**
 * A stretch of a site's alarms lived once more by the machine itself (decide.ts), from what is known of it now: its events,
 * what people did, and these settings. Each event comes and goes at its own time, as though it had been known at once; so
 * what was late or taken back then makes a difference, and the answer says how many were really raised beside it.
 */
export interface Lived {
  readonly site: Site;
  readonly tuning: Tuning;
  readonly stretch: Stretch;
  /** those that rules look at, also of what came before the stretch, as far as rules look back */
  readonly events: readonly EventDraft[];
  /** done ones, in order */
  readonly commands: readonly Done[];
}

export interface Done {
  readonly command: Command;
  readonly at: Instant;
}

/** What is over for so long matters no more where its kind isn't counted (rules.ts). */
const KEPT_SECONDS = 60;

/** A generator, so that whoever runs it breathes between two decisions. Answers the journal. */
export function* liveAgain(lived: Lived): Generator<void, JournalLine[]> {
  const { stretch, site, tuning, events, commands } = lived;
  const instants = turningPoints(lived);
  const keys = new Map<string, string>();
  const lines: JournalLine[] = [];
  const repairs: Repair[] = [];
  let state: SiteAlarms = NO_ALARMS;
  let wake: Instant = Infinity;
  let asked = 0;
  for (let n = 0; n < instants.length || wake < stretch.to;) {
    const coming = instants[n] ?? Infinity;
    const now = Math.min(coming, wake);
    if (coming <= now) n++;
    const until = asked;
    while (asked < commands.length && commands[asked]!.at <= now) asked++;
    const known = knownAt(events, now);
    const decision = decideAlarms(state, {
      ...surely(site, known, now),
      events: known,
      added: known.filter(({ start }) => start.latest === now).map(({ id }) => id),
      gone: [],
      commands: commands.slice(until, asked).map(({ command }) => command),
      repairs,
      now,
      through: now,
      pending: false,
      configuration: { site, tuning },
      hotInUse: new Set(),
    });
    for (const { id, key } of decision.alarms) keys.set(id, key);
    for (const change of decision.changes)
      if (change.alarm !== null && now > stretch.from)
        lines.push({ ...change, alarm: change.alarm, key: keys.get(change.alarm) ?? '' });
    repairs.push(...repairsIn(decision));
    state = decision.state;
    wake = Math.min(decision.wake.at ?? Infinity, decision.wake.through ?? Infinity);
    yield;
  }
  return lines;
}

/** The beginning, and wherever an event comes or goes or somebody did something. */
function turningPoints({ stretch, events, commands }: Lived): Instant[] {
  const all = new Set<Instant>([stretch.from]);
  const note = (at: Instant): void => void (at > stretch.from && at < stretch.to && all.add(at));
  for (const { start, end } of events) {
    note(start.latest);
    if (end) note(end.latest);
  }
  for (const { at } of commands) note(at);
  return [...all].toSorted((a, b) => a - b);
}

/** Events as they stood at an instant: one that has yet to end stands. */
const knownAt = (events: readonly EventDraft[], now: Instant): EventDraft[] =>
  events.flatMap((event) => {
    if (event.start.latest > now) return [];
    if (event.end === null || event.end.latest > now) return [{ ...event, end: null }];
    const kept = seconds(LOOK_BACK[event.kind] ?? KEPT_SECONDS);
    return now - event.end.latest <= kept ? [event] : [];
  });

/** Every subject is known, and a unit has power where no loss of it stands. */
function surely(site: Site, known: readonly EventDraft[], now: Instant) {
  const { units, spaces, panels, gateways } = site;
  const kinds = { unit: units, space: spaces, panel: panels, gateway: gateways };
  const all = Object.entries(kinds).flatMap(([kind, list]) => list.map(({ id }) => `${kind}/${id}`));
  const dark = new Set(
    known.filter(({ kind, end }) => kind === 'power-loss' && end === null).map(({ unit }) => unit),
  );
  return {
    known: new Map(all.map((key) => [key, { through: now, stopped: false }])),
    powered: new Map(units.filter(({ id }) => !dark.has(id)).map(({ id }) => [id, now])),
  };
}

/** Is it an event that alarms come of? Those of tasks alone are left out. */
export const ALARMING_KINDS: ReadonlySet<EventDraft['kind']> = new Set([
  ...ALARM_RULE_IDS.map((id) => alarmRule(id).from.kind),
  'compressor-run',
]);
