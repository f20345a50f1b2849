import Type, { type Static } from 'typebox';
import type { UnitPhase } from '../inference/standing.ts';
import { EventAnswer, WireCause, WireCertainty, WireSignal } from './event-answer.ts';
import { choice, Count, Id, IsoInstant, nullable, WireBounds, WireSpan } from './schema.ts';

/** What stands now at a site: `GET /api/sites/:site/status`, the board, and the frames of the live socket. */

const PHASES: Record<UnitPhase, true> = {
  running: true,
  ready: true,
  'off-delay': true,
  'power-up-delay': true,
  'soft-lockout': true,
  'undervoltage-hold': true,
  'hard-lockout': true,
  'failed-start': true,
  'no-power': true,
  stopped: true,
  'not-known': true,
};
export const WirePhase = choice(...(Object.keys(PHASES) as UnitPhase[]));

const WireLastSeen = Type.Object(
  { t: IsoInstant, value: nullable(Type.Number()) },
  { description: 'contacts: 1 asserted, 0 not, null unknown; analogs: the scaled value' },
);

/** UnitStanding of shared/inference/standing.ts with ISO times; `readUnitStanding` turns it back. */
export const WireUnitStanding = Type.Object({
  phase: WirePhase,
  since: nullable(WireSpan),
  certainty: WireCertainty,
  cause: nullable(WireCause),
  causeCertainty: nullable(WireCertainty),
  pending: Type.Array(Type.String()),
  call: nullable(Type.Boolean()),
  until: nullable(WireSpan),
  untilFrom: nullable(choice('assumed', 'recorded')),
  overdue: Type.Boolean(),
  startsLastHour: Count,
  lastSeen: Type.Record(Type.String(), WireLastSeen),
  event: nullable(Id),
  settingsSeen: Type.Optional(
    Type.Array(
      Type.Object({
        setting: choice('offDelay', 'powerUpDelay'),
        seconds: WireBounds,
        gaps: Count,
      }),
      { description: 'what restarts have shown of its delays, seconds [low, high]' },
    ),
  ),
});
export type WireUnitStanding = Static<typeof WireUnitStanding>;

/** Phases of the last two hours, to scale: seconds after `from`. What no phase covers is `ready`. */
export const Strip = Type.Object({
  from: IsoInstant,
  to: IsoInstant,
  phases: Type.Array(
    Type.Object({
      phase: WirePhase,
      start: Type.Number(),
      end: Type.Number(),
      certainty: WireCertainty,
      event: nullable(Id),
    }),
  ),
});
export type Strip = Static<typeof Strip>;

const folded = {
  /** through when everything that isn't silent is known; null: nothing seen yet */
  knownThrough: nullable(IsoInstant),
  /** inference has stopped on this subject: why; its last conclusions stand still */
  stopped: nullable(Type.String()),
};

export const UnitStatus = Type.Object({
  id: Id,
  name: Type.String(),
  panel: Id,
  space: Id,
  role: nullable(choice('lead', 'lag')),
  equipment: choice('cooling-only', 'heat-pump'),
  signals: Type.Array(WireSignal, { description: 'what is wired' }),
  /** null: no fold has run yet */
  standing: nullable(WireUnitStanding),
  /** newest sample of any of its points */
  dataAt: nullable(IsoInstant),
  strip: Type.Optional(Strip),
  ...folded,
});
export type UnitStatus = Static<typeof UnitStatus>;

export const SpaceStatus = Type.Object({
  id: Id,
  name: Type.String(),
  units: Type.Array(Id),
  cooling: choice('all', 'reduced', 'lost', 'not-known'),
  since: nullable(WireSpan),
  able: Count,
  installed: Count,
  needed: Count,
  temperature: nullable(WireLastSeen),
  temperatureLimit: nullable(Type.Number()),
  ...folded,
});
export type SpaceStatus = Static<typeof SpaceStatus>;

export const PanelStatus = Type.Object({
  id: Id,
  name: Type.String(),
  units: Type.Array(Id),
  nominalVoltage: Type.Number(),
  power: choice('present', 'away', 'not-known'),
  since: nullable(WireSpan),
  lineVoltage: nullable(WireLastSeen),
  generator: nullable(Type.Boolean()),
  restarting: Type.Array(Id),
  ...folded,
});
export type PanelStatus = Static<typeof PanelStatus>;

export const GatewayStatus = Type.Object({
  id: Id,
  heartbeatSeconds: nullable(Type.Number()),
  lastLife: nullable(IsoInstant),
  silentSince: nullable(IsoInstant),
});
export type GatewayStatus = Static<typeof GatewayStatus>;

/** The parts of a site that stand now. Everything is keyed by id, so that a newer part takes the place of an older. */
const siteParts = {
  id: Id,
  /** newest sample or life of any gateway: how old the page's data are */
  dataAt: nullable(IsoInstant),
  /** through when our own ingest listened and committed */
  watchedThrough: nullable(IsoInstant),
  /** work that waits for inference; 0: everything committed is folded */
  inferencePending: Count,
  units: Type.Array(UnitStatus),
  spaces: Type.Array(SpaceStatus),
  panels: Type.Array(PanelStatus),
  gateways: Type.Array(GatewayStatus),
};

/** Events that haven't ended, and those that ended no more than this long ago, stand beside the status. */
export const OPEN_EVENTS_BOUND = 500;

export const SiteStatus = Type.Object({
  ...siteParts,
  name: Type.String(),
  timeZone: Type.String(),
  address: nullable(Type.String()),
  /** the server's clock when it answered: countdowns run on it */
  serverTime: IsoInstant,
  /** place in the live room `site:<id>`: join first, then fetch, then drop frames at or before this revision */
  epoch: Id,
  revision: Count,
  /** not over yet, without ordinary runs; oldest first, at most 500 */
  openEvents: Type.Array(EventAnswer),
});
export type SiteStatus = Static<typeof SiteStatus>;

export const SiteParts = Type.Object(siteParts);
export type SiteParts = Static<typeof SiteParts>;

export const BoardSite = Type.Object({
  ...siteParts,
  name: Type.String(),
  timeZone: Type.String(),
  openEvents: Type.Array(EventAnswer),
});
export type BoardSite = Static<typeof BoardSite>;

/** `GET /api/board`: every site with its units' last two hours. */
export const BoardAnswer = Type.Object({
  serverTime: IsoInstant,
  epoch: Id,
  revision: Count,
  sites: Type.Array(BoardSite),
  cursor: nullable(Type.String()),
});
export type BoardAnswer = Static<typeof BoardAnswer>;
