import type { EventKind } from '../inference/event.ts';

/**
 * What was counted of one site in one stretch of time, as it is read from the events: runs of units, what else they did, how
 * long each space was without cooling, what the supply did. Possible events are never counted; seconds are those inside the
 * stretch, and of time that was listened to.
 */
export interface UnitRuns {
  readonly unit: string;
  /** that began in the stretch */
  readonly starts: number;
  readonly runSeconds: number;
}

export interface UnitCount {
  readonly unit: string;
  readonly kind: EventKind;
  /** '' where the kind has none */
  readonly cause: string;
  readonly count: number;
}

export interface SpaceTime {
  readonly space: string;
  readonly lostSeconds: number;
  readonly reducedSeconds: number;
  /** above its limit, measured */
  readonly hotSeconds: number;
}

export interface PanelCount {
  readonly panel: string;
  readonly kind: EventKind;
  /** the class of a sag, swell or interruption (IEEE 1159), the verdict of a restart; '' where there is none */
  readonly of: string;
  readonly count: number;
}

export interface SiteCounts {
  readonly site: string;
  /** the stretch as far as it has passed and was seen at all, s */
  readonly seconds: number;
  /** of these, those through which every gateway was heard and listened to, s */
  readonly knownSeconds: number;
  readonly runs: readonly UnitRuns[];
  readonly units: readonly UnitCount[];
  readonly spaces: readonly SpaceTime[];
  readonly panels: readonly PanelCount[];
}
