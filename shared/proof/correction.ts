import type { Instant } from '../base/instant.ts';

/** What would put a fault right in the site’s document, decided here and written into it by shared/wire/proof-correct.ts. */
export type Correction =
  | {
      readonly kind: 'contact';
      readonly point: string;
      readonly contact: 'normally-open' | 'normally-closed';
    }
  /** each of two points takes what its gateway tells as the other’s */
  | { readonly kind: 'swap'; readonly points: readonly [string, string] }
  /** seconds to be added to what is configured already, from an instant on */
  | {
      readonly kind: 'clock';
      readonly gateway: string;
      readonly addSeconds: number;
      readonly from: Instant | null;
    }
  | { readonly kind: 'reporting'; readonly point: string; readonly seconds: number | null }
  | { readonly kind: 'debounce'; readonly point: string; readonly seconds: number }
  | { readonly kind: 'off-delay'; readonly unit: string; readonly seconds: number };
