import type { Instant } from '../../../shared/base/instant.ts';
import type { EventCause } from '../../../shared/inference/event.ts';
import type { EventDraft } from '../../../shared/inference/event.ts';
import type { Revision } from '../../../shared/inference/revision.ts';
import type {
  GatewayStanding,
  PanelStanding,
  SpaceStanding,
  UnitStanding,
} from '../../../shared/inference/standing.ts';
import type { SignalName } from '../../../shared/telemetry/signals.ts';
import type { BoardSite as AnswerSite } from '../../../shared/wire/board-answer.ts';
import type { Piece } from '../drawing/pieces.ts';

/** A site as the page holds it: times are instants, what nobody has folded yet reads `not known`. */
export interface SiteView {
  readonly id: string;
  readonly name: string;
  readonly timeZone: string;
  readonly dataAt: Instant | null;
  readonly watchedThrough: Instant | null;
  readonly inferencePending: number;
  readonly units: readonly UnitLineView[];
  readonly rooms: readonly RoomView[];
  readonly panels: readonly PanelView[];
  readonly gateways: readonly (GatewayStanding & { readonly id: string })[];
  readonly openEvents: readonly EventView[];
}

export interface UnitLineView {
  readonly id: string;
  readonly name: string;
  readonly panel: string;
  readonly space: string;
  readonly role: 'lead' | 'lag' | null;
  readonly signals: readonly SignalName[];
  readonly standing: UnitStanding;
  readonly dataAt: Instant | null;
  readonly knownThrough: Instant | null;
  readonly stopped: string | null;
  /** what is drawn of the last hours, oldest first, up to the standing's own piece */
  readonly pieces: readonly Piece[];
}

export interface RoomView {
  readonly id: string;
  readonly name: string;
  readonly units: readonly string[];
  readonly space: SpaceStanding;
}

export interface PanelView {
  readonly id: string;
  readonly name: string;
  readonly units: readonly string[];
  readonly nominalVoltage: number;
  readonly panel: PanelStanding;
}

export interface EventView extends EventDraft {
  readonly replaces: readonly string[];
  readonly revision: number;
  readonly inferredAt: Instant;
  readonly withdrawnAt: Instant | null;
  /** what was said before; empty where the answer didn't come by itself */
  readonly history: readonly Revision[];
  readonly cause: EventCause | null;
}

/** What the board's and the site's sentences are made of. */
export const answerSite = (site: SiteView): AnswerSite => ({
  name: site.name,
  rooms: site.rooms,
  units: site.units.map((unit) => ({ name: unit.name, unit: unit.standing })),
});
