import type { ClaimedDelivery } from '../../db/notices.ts';
import type { ChannelRow } from '../../db/channels.ts';

/**
 * What every channel is: it hands one message to the next station and says what came of it. `accepted` is what that
 * station said, and isn't "delivered". The same message again is known by its id.
 */
export interface Channel {
  send(message: Outgoing): Promise<Sent>;
  close(): Promise<void>;
}

export interface Outgoing {
  readonly to: ChannelRow;
  readonly delivery: ClaimedDelivery;
}

export type Sent =
  | { readonly kind: 'accepted'; readonly answer: string }
  /** it may go through later */
  | { readonly kind: 'later'; readonly answer: string }
  /** this message never will */
  | { readonly kind: 'never'; readonly answer: string }
  /** nothing will any more, to this address */
  | { readonly kind: 'gone'; readonly answer: string };

/** What went wrong, in a line that may be shown and holds no credentials. */
export const errorLine = (error: unknown): string =>
  (error instanceof Error ? error.message : String(error)).replace(/\s+/g, ' ').slice(0, 300);
