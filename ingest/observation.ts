import type { RetryReason } from '../db/sqlstate.ts';
import type { Instant } from '../shared/base/instant.ts';
import type { RefusalWhy } from '../shared/wire/gateway-refusals.ts';

/** Everything that ingest has to tell: the log and the metrics decide what becomes of it. */
export type Observation =
  | {
      readonly kind: 'committed';
      readonly messages: number;
      readonly samples: number;
      /** rows that were new or changed */
      readonly changed: number;
      readonly rejected: number;
      readonly tookMs: number;
      /** from the receipt of the batch's oldest message to the commit */
      readonly oldestMs: number;
    }
  | { readonly kind: 'set-aside'; readonly reason: string; readonly entries: number; readonly topic: string }
  | { readonly kind: 'commit-delayed'; readonly attempt: number; readonly error: Error }
  | { readonly kind: 'commit-refused'; readonly topic: string; readonly error: Error }
  | { readonly kind: 'trim-failed'; readonly error: Error }
  /** what is talking unmapped couldn't be written down: it is noted anew */
  | { readonly kind: 'heard-not-kept'; readonly error: Error }
  | { readonly kind: 'database-retried'; readonly reason: RetryReason; readonly attempt: number }
  | { readonly kind: 'database-connection-lost'; readonly error: Error }
  | { readonly kind: 'configuration-read'; readonly revision: number; readonly sites: number }
  /** a bound of what is in flight is reached: the broker is held back until half of them are committed */
  | { readonly kind: 'held-back' | 'let-go'; readonly inFlight: number; readonly bytes: number }
  | { readonly kind: 'broker-connected'; readonly protocol: 4 | 5; readonly sessionPresent: boolean }
  | { readonly kind: 'broker-lost' }
  | { readonly kind: 'broker-error'; readonly error: Error }
  | { readonly kind: 'subscription-refused'; readonly filter: string }
  /** topics that the configuration names since the connection was made */
  | { readonly kind: 'listening-to'; readonly filters: number }
  /** an edge node is asked to tell everything anew */
  | { readonly kind: 'rebirth-asked'; readonly group: string; readonly edge: string; readonly why: string }
  /** something was missing in the order of an edge node's messages, and didn't come in time */
  | { readonly kind: 'sequence-gap'; readonly group: string; readonly edge: string }
  /** of several ingests this one is the host application now, or no longer is */
  | { readonly kind: 'host-lease'; readonly isMine: boolean }
  /** its session at the broker is gone, and with it what waited there for this member of a group */
  | { readonly kind: 'session-lost' }
  /** its session is ended for good: nobody waits for it any more */
  | { readonly kind: 'left' }
  /** a host application's state, as edge nodes see it */
  | { readonly kind: 'host-state'; readonly online: boolean }
  /** everything that waited at the broker has been received */
  | { readonly kind: 'caught-up'; readonly afterMs: number }
  /** the connection went before these could be acknowledged: the broker sends them again */
  | { readonly kind: 'acknowledgements-dropped'; readonly messages: number }
  | { readonly kind: 'listening'; readonly port: number; readonly tlsPort?: number | null }
  /** the end of the certificate that the door with TLS shows: at the start, and each minute */
  | { readonly kind: 'tls-certificate'; readonly endsAt: Instant }
  /** it ends within 30 days: once a day */
  | { readonly kind: 'tls-certificate-ends'; readonly endsAt: Instant; readonly days: number }
  /** a broker turned somebody away, or dropped what they published: so often since it was last told */
  | {
      readonly kind: 'gateway-refused';
      readonly why: RefusalWhy;
      readonly username: string;
      readonly address: string;
      readonly client: string;
      readonly detail: string;
      readonly times: number;
    }
  /** an external broker's log (MQTT_BROKER_LOG): whom it turns away isn't known until it can be read */
  | { readonly kind: 'broker-log-unread'; readonly error: Error }
  /** they were told of, and the page won't show them */
  | { readonly kind: 'refusals-not-kept'; readonly error: Error }
  | { readonly kind: 'client-connected' | 'client-gone'; readonly client: string }
  | { readonly kind: 'client-refused'; readonly client: string; readonly why: string }
  | { readonly kind: 'stopped' };

export type Observe = (observation: Observation) => void;
