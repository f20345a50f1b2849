import type { Instant } from '../base/instant.ts';
import type { SignalName } from './signals.ts';

/**
 * A site's configuration with every default filled in: what the rules, the decoder and the simulated building read.
 * The document that people write (shared/wire/configuration.ts) is checked there and resolved into this.
 */
export interface Site {
  readonly id: string;
  readonly name: string;
  readonly timeZone: string;
  readonly gateways: readonly Gateway[];
  readonly spaces: readonly Space[];
  readonly panels: readonly Panel[];
  readonly units: readonly Unit[];
  /** points of the site itself (device `site`) */
  readonly points: readonly Point[];
}

export interface Gateway {
  readonly id: string;
  /** the period of promised heartbeats; null: none promised, silence never turns its on-change points unknown */
  readonly heartbeatSeconds: number | null;
  readonly clockUncertaintySeconds: number;
  /** from each instant on, this many seconds are added to the gateway's claimed times when they are read */
  readonly clockOffsets: readonly { readonly from: Instant; readonly seconds: number }[];
}

export interface Space {
  readonly id: string;
  readonly name: string;
  /** °C; null: no limit recorded */
  readonly temperatureLimit: number | null;
  /** a forecast of the limit is told once it may come within so many seconds; default 3600 (handbook 7) */
  readonly forecastSeconds: number;
  readonly unitsNeeded: number;
  readonly inUse: readonly { readonly days: string; readonly from: string; readonly to: string }[];
  readonly points: readonly Point[];
}

export interface Panel {
  readonly id: string;
  readonly name: string;
  readonly nominalVoltage: number;
  readonly phases: 1 | 3;
  readonly frequency: number;
  readonly supply: PanelSupply | null;
  /** what feeds it when the utility doesn't; null: not recorded */
  readonly generator: PanelGenerator | null;
  /** share of the nominal voltage that starts should leave; default 0.9, below which they make a sag */
  readonly startVoltageLimit: number;
  readonly minimumStartSeparationSeconds: number;
  readonly points: readonly Point[];
}

export interface PanelGenerator {
  readonly ratedKva: number;
  /** per unit; null: not recorded */
  readonly transientReactance: number | null;
}

export interface PanelSupply {
  readonly kind: 'transformer' | 'generator';
  readonly ratedKva: number;
  readonly impedancePercent: number;
  readonly reactanceToResistance: number;
}

export interface Unit {
  readonly id: string;
  readonly name: string;
  readonly panel: string;
  readonly space: string;
  readonly role: 'lead' | 'lag' | null;
  readonly equipment: 'cooling-only' | 'heat-pump';
  readonly dehumidification: boolean;
  readonly thermostatDelaySeconds: number;
  readonly allowedOnGenerator: boolean;
  readonly nameplate: Nameplate;
  readonly protection: Protection;
  /** its own points, then the site's points that name it in `of` */
  readonly points: readonly Point[];
}

export interface Nameplate {
  readonly lockedRotorAmps: number | null;
  readonly ratedLoadAmps: number | null;
  /** locked-rotor kVA per horsepower as a letter [NEC 430.7(B)], and the horsepower, where amps aren't written */
  readonly codeLetter?: string | null;
  readonly horsepower?: number | null;
}

/** A setting and where it comes from: `assumed` is a default, `recorded` was written down by someone (handbook 2.1). */
export interface Setting<T> {
  readonly value: T;
  readonly known: 'assumed' | 'recorded';
}

/** The settings of a protection control, handbook 2.1. Durations in seconds, voltages in V. */
export interface Protection {
  readonly offDelay: Setting<number>;
  readonly offDelayFrom: Setting<'call' | 'stop' | 'either'>;
  readonly powerUpBase: Setting<number>;
  readonly powerUpShare: Setting<number>;
  readonly lowPressureBypass: Setting<number>;
  readonly lowPressureRetry: Setting<'closed-needed' | 'bypass-again' | 'either'>;
  readonly stopsCounted: Setting<'together' | 'by-switch' | 'either'>;
  readonly undervoltageTrip: Setting<number | null>;
  readonly undervoltageStartGrace: Setting<number>;
  readonly undervoltageDelayFrom: Setting<'drop' | 'recovery' | 'either'>;
  readonly holdUp: Setting<number>;
  /** share of a timer's length by which it may be off and still count as kept; default 0.05 [from memory] */
  readonly tolerance: number;
  /** by how many seconds a hand-set dial may be off; default 10 [from memory] */
  readonly settingError: number;
  /** starts in any 60 min from which on they are too many; default 10 */
  readonly startsPerHourLimit: number;
}

export type Reporting =
  { readonly mode: 'on-change' } | { readonly mode: 'polled'; readonly seconds: number };

export interface Point {
  /** id of the unit, panel, space or gateway it is on, or `site` */
  readonly device: string;
  readonly signal: SignalName;
  readonly gateway: string;
  /** `normally-open`: closed means asserted; `normally-closed`: open means asserted */
  readonly contact: 'normally-open' | 'normally-closed';
  /** cooling-call: `own` or `upstream`; pressure contacts: `loop` or `isolated`; others: `own` */
  readonly sense: 'own' | 'upstream' | 'isolated' | 'loop';
  readonly alarmOn: 'energised' | 'released';
  /** the units that share this contact, where it is wired at the site */
  readonly of: readonly string[];
  readonly reporting: Reporting;
  readonly debounceSeconds: number;
  readonly resolutionSeconds: number;
  readonly deadband: number;
  readonly range: readonly [low: number, high: number];
  readonly scale: number;
  readonly offset: number;
  readonly source: PointSource | null;
  /** `<device>/<signal>` under which its gateway tells it, where its wire lies on another's input; null: its own */
  readonly input?: string | null;
  readonly sparkplug: string | null;
}

/** Where a point's values come from when not from the root topic (contract 1.3). Pointers are RFC 6901. */
export interface PointSource {
  readonly topic: string;
  readonly pointer: string;
  readonly time: string | null;
}

/** One version of a site's configuration and the instant from which it holds; -Infinity stands for `always`. */
export interface DatedSite {
  readonly from: Instant;
  readonly site: Site;
}

/** A site's configuration as history, oldest first. */
export type SiteHistory = readonly DatedSite[];

/** The configuration that holds at an instant: the latest whose `from` isn't after it, else the first. */
export function siteAt(history: SiteHistory, at: Instant): Site | null {
  let found: Site | null = history[0]?.site ?? null;
  for (const version of history) if (version.from <= at) found = version.site;
  return found;
}
