import { SECOND, seconds, type Instant } from '../../shared/base/instant.ts';
import { REFERENCE_SETTINGS, type ControlSettings } from '../../shared/control/settings.ts';
import type { Subject } from '../../shared/inference/event.ts';
import type { RecordPage } from '../../shared/inference/fold.ts';
import { contextOf } from '../../shared/inference/sources.ts';
import type { Point, Site, SiteHistory } from '../../shared/telemetry/site.ts';
import { oneUnit } from '../fixtures/unit-record.ts';
import { dice, type Dice } from './dice.ts';
import { hear, movesOf, pageOf, unitReading, type Heard } from './gateway-record.ts';
import { calm, HAPPENINGS, type Happening } from './happenings.ts';
import { statedOf, type Stated } from './stated.ts';
import { shareAlarm, type Trace } from './trace.ts';
import type { TrueEvent } from './true-event.ts';
import { truthOf } from './truth.ts';
import { UnitPlant } from './unit-plant.ts';

/** What is crossed: wiring, reporting, and how well the record knows the unit. */
export interface Setup {
  /** signals that are wired, and how; reporting is added */
  readonly points: readonly PointSetup[];
  /** seconds between polls; null: on change */
  readonly contactsEvery: number | null;
  readonly voltageEvery: number | null;
  readonly jitter?: number;
  /** two gateways whose clocks differ by as much as they admit */
  readonly twoClocks?: boolean;
  /** the alarm contact serves a second unit too */
  readonly sharedAlarm?: boolean;
  /** stretches of a dead gateway */
  readonly gaps?: boolean;
  readonly hours: number;
}

export interface PointSetup {
  readonly signal: string;
  readonly [more: string]: unknown;
}

export interface Case {
  readonly seed: number;
  readonly setup: Setup;
  readonly history: SiteHistory;
  readonly trace: Trace;
  readonly truths: readonly TrueEvent[];
  readonly page: RecordPage;
  readonly heard: readonly Heard[];
  readonly happened: readonly string[];
  readonly from: Instant;
  readonly to: Instant;
  readonly dead: readonly { readonly from: Instant; readonly to: Instant }[];
  /** a sense wire is off: what depends on it isn't missed, but nothing may be told falsely */
  readonly blinded: boolean;
  /** what the tool says can be known of this unit */
  readonly stated: Stated;
  /** kinds of which more may rightly be told than has labels */
  readonly unjudged: ReadonlySet<string>;
}

export const SUBJECT: Subject = { kind: 'unit', site: 'rowan', device: 'unit-1' };
/** somewhere in 2026 */
const BEGIN = 1_770_000_000 * SECOND;

/** How the control really is, and what of it is written down. */
interface Knowledge {
  readonly real: ControlSettings;
  readonly protection: Record<string, unknown>;
  readonly drift: number;
}

const FULLY: readonly (keyof ControlSettings)[] = [
  'offDelay',
  'offDelayFrom',
  'powerUpBase',
  'powerUpShare',
  'lowPressureBypass',
  'lowPressureRetry',
  'stopsCounted',
  'undervoltageTrip',
  'undervoltageStartGrace',
  'undervoltageDelayFrom',
];

/** Any control of handbook 2.1. */
function realSettings(chance: Dice): ControlSettings {
  const plain = chance.chance(0.4);
  if (plain) return REFERENCE_SETTINGS;
  return {
    offDelay: Math.round(chance.between(30, 300) / 10) * 10,
    offDelayFrom: chance.pick(['call', 'stop']),
    powerUpBase: chance.pick([120, 120, 60, 180]),
    powerUpShare: chance.pick([0.1, 0.1, 0, 0.2]),
    lowPressureBypass: chance.pick([120, 120, 60, 180]),
    lowPressureRetry: chance.pick(['bypass-again', 'closed-needed']),
    stopsCounted: chance.pick(['together', 'by-switch']),
    undervoltageTrip: chance.pick([18, 18, 17, null]),
    undervoltageStartGrace: chance.pick([0, 0, 2]),
    undervoltageDelayFrom: chance.pick(['drop', 'recovery']),
    holdUp: chance.pick([0, 0, 0.05, 0.1]),
  };
}

/** What is written down: all of it, only the delay, nothing (then the defaults are assumed), or something wrong. */
function knowledge(chance: Dice): Knowledge {
  const real = realSettings(chance);
  const written = (keys: readonly (keyof ControlSettings)[]) =>
    Object.fromEntries(keys.map((key) => [key, real[key]]));
  const drift = chance.chance(0.8) ? chance.between(-0.01, 0.01) : chance.between(-0.2, 0.2);
  const kind = chance.between(0, 1);
  if (kind < 0.5) return { real, drift, protection: written(FULLY) };
  if (kind < 0.7) return { real, drift, protection: written(['offDelay']) };
  if (kind < 0.8) return { real, drift, protection: { offDelay: undefined } };
  const wrong = chance.pick([0.4, 0.6, 0.8, 1.2, 1.6]);
  const offDelay = Math.min(300, Math.max(30, Math.round(real.offDelay * wrong)));
  return { real, drift, protection: { ...written(FULLY), offDelay } };
}

/** `faults`: only what befalls a unit by these names, with ordinary calls between; null: everything. */
export function makeCase(seed: number, setup: Setup, faults: readonly string[] | null = null): Case {
  const chance = dice(seed);
  const known = knowledge(chance);
  const from = BEGIN;
  const to = from + seconds(setup.hours * 3_600);
  const alarmOn = chance.chance(0.2) ? 'released' : 'energised';
  const unit = new UnitPlant(known.real, from, alarmOn);
  unit.setTo({}, known.drift);
  const alarmInverted = chance.chance(0.04) && faults === null;
  const blinded = chance.chance(0.03) && faults === null;
  unit.fault({ alarmInverted, callWireLost: blinded });
  const turned = live(unit, to, chance, faults);
  if (setup.sharedAlarm) shareAlarm(unit.trace, neighbourOf(from, to, chance));
  const { history, recorded } = historyOf(setup, known.protection, alarmOn, turned);
  const truths = truthOf({ unit, recorded, alarmInverted, to });
  const dead = setup.gaps ? deadStretches(from, to, chance) : [];
  const heartbeatSeconds = chance.pick([30, 30, 60, 10]);
  const keys = contextOf(history, SUBJECT, { spans: [] }).sources.map(({ key }) => key);
  const clockError = setup.twoClocks
    ? // each may be 1 s off; the history is labelled in the first one's time
      { meter: seconds(chance.between(-2, 2)) }
    : {};
  const heard = hear(
    {
      site: history[0]!.site,
      points: history[0]!.site.units[0]!.points,
      readingOf: (point) => unitReading(point, unit.trace),
      moves: movesOf(unit.trace),
      from,
      to,
      dead,
      jitter: setup.jitter ?? 0,
      heartbeatSeconds,
      clockError,
    },
    chance,
  );
  const page = pageOf(heard, keys);
  const happened = turned.happened;
  const unjudged = new Set<string>(alarmInverted ? ['alarm-circuit-fault'] : []);
  // with the call's wire off the output does go against its seen inputs
  if (blinded) unjudged.add('control-disagrees');
  return {
    seed,
    setup,
    history,
    trace: unit.trace,
    truths,
    page,
    heard,
    happened,
    from,
    to,
    dead,
    blinded,
    stated: statedOf(history.at(-1)!.site, SUBJECT.device, setup.jitter),
    unjudged,
  };
}

/** Another unit, whose alarm is on the same contact. */
function neighbourOf(from: Instant, to: Instant, chance: Dice): Trace {
  const other = new UnitPlant(REFERENCE_SETTINGS, from, 'energised');
  live(other, to, chance, ['high pressure stays', 'two low-pressure stops']);
  return other.trace;
}

interface Lived {
  readonly happened: string[];
  /** a dial turned, and the day and new value were written down */
  readonly turnedAt: Instant | null;
  readonly turnedTo: number;
}

/** A unit's life: one thing after another, calm between. */
function live(unit: UnitPlant, to: Instant, chance: Dice, faults: readonly string[] | null): Lived {
  const happened: string[] = [];
  const all = Object.keys(HAPPENINGS) as (keyof typeof HAPPENINGS)[];
  const names = faults ? all.filter((name) => name === 'ordinary call' || faults.includes(name)) : all;
  const turnsAt = chance.chance(0.08) ? unit.t + (to - unit.t) * chance.between(0.2, 0.8) : Infinity;
  let turnedAt: Instant | null = null;
  const turnedTo = chance.pick([90, 120, 150, 180, 240, 270]);
  unit.wait(chance.between(300, 900));
  while (unit.t < to) {
    if (unit.t >= turnsAt && turnedAt === null) {
      unit.set({ want: false });
      unit.wait(600);
      unit.setTo({ offDelay: turnedTo });
      turnedAt = unit.t;
      happened.push(`dial turned to ${turnedTo} s`);
    }
    const name = chance.pick(names);
    happened.push(`${Math.round((unit.t - BEGIN) / SECOND)}: ${name}`);
    (HAPPENINGS[name] as Happening)(unit, chance);
    calm(unit, chance);
  }
  return { happened, turnedAt, turnedTo };
}

function historyOf(
  setup: Setup,
  protection: Record<string, unknown>,
  alarmOn: string,
  { turnedAt, turnedTo }: Lived,
): { history: SiteHistory; recorded: { from: Instant; protection: Site['units'][0]['protection'] }[] } {
  const site = siteOf(setup, protection, alarmOn);
  const versions = [{ from: -Infinity, site }];
  if (turnedAt !== null && protection['offDelay'] !== undefined)
    versions.push({ from: turnedAt, site: siteOf(setup, { ...protection, offDelay: turnedTo }, alarmOn) });
  const recorded = versions.map((one) => ({ from: one.from, protection: one.site.units[0]!.protection }));
  return { history: versions, recorded };
}

function siteOf(setup: Setup, protection: Record<string, unknown>, alarmOn: string): Site {
  const reporting = (every: number | null) =>
    every === null ? { mode: 'on-change' } : { mode: 'polled', seconds: every };
  const isVoltage = (signal: string) => signal === 'control-voltage';
  const points = setup.points.map((point) => ({
    ...point,
    ...(point.signal === 'lockout-alarm' ? { alarmOn } : {}),
    ...(setup.twoClocks && isVoltage(point.signal) ? { gateway: 'meter' } : {}),
    reporting: reporting(isVoltage(point.signal) ? setup.voltageEvery : setup.contactsEvery),
  }));
  const gateways = [{ id: 'gateway', heartbeatSeconds: 60 }];
  if (setup.twoClocks) gateways.push({ id: 'meter', heartbeatSeconds: 60 });
  const given = Object.fromEntries(Object.entries(protection).filter(([, value]) => value !== undefined));
  const assumed = protection['offDelay'] === undefined ? { offDelay: undefined } : {};
  const nameplate = { ratedLoadAmps: 17.9 };
  const site = oneUnit(points, { ...given, ...assumed }, { nameplate }, gateways);
  return setup.sharedAlarm ? withSharedAlarm(site) : site;
}

/** The contact at the site, for both units (contract 2). */
function withSharedAlarm(site: Site): Site {
  const unit = site.units[0]!;
  const of = [unit.id, 'unit-2'];
  const share = (point: Point): Point =>
    point.signal === 'lockout-alarm' ? { ...point, device: 'site', of } : point;
  return { ...site, units: [{ ...unit, points: unit.points.map(share) }] };
}

/** A gateway that is dead for a few minutes, several times. */
function deadStretches(from: Instant, to: Instant, chance: Dice): { from: Instant; to: Instant }[] {
  const found: { from: Instant; to: Instant }[] = [];
  let t = from + seconds(1_200);
  while (t < to) {
    const end = t + seconds(chance.spread(240, 1_800));
    found.push({ from: t, to: end });
    t = end + seconds(chance.spread(3_600, 14_400));
  }
  return found;
}
