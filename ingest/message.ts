import type { Instant } from '../shared/base/instant.ts';
import type { Said } from './sparkplug/said.ts';

/** One MQTT publish, as it was received. */
export interface Message {
  readonly topic: string;
  readonly payload: Uint8Array;
  readonly receivedAt: Instant;
  /** null: it came straight from its publisher, so a value without a time may be timed at arrival (contract 1.4) */
  readonly waited: Waited | null;
  /** what it says by its place in an edge node's session; not given: it isn't Sparkplug's */
  readonly said?: Said;
  /** called once, when its batch has committed: only now may it be acknowledged */
  readonly committed: () => void;
}

/** Why a message may have waited on its way. */
export type Waited =
  /** sent before: the DUP bit */
  | 'duplicate'
  /** kept by the broker and given to a new subscription: the RETAIN bit as a subscriber sees it */
  | 'retained'
  /** received after a (re)connect before our own marker message had come back */
  | 'before-marker';
