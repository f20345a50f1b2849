import type { Instant } from '../base/instant.ts';

/** What a gateway has told, as far as it matters here. */
export interface GatewayWord {
  readonly site: string;
  readonly gateway: string;
  /** the newest that is heard of it; null: nothing yet */
  readonly lastLife: Instant | null;
  /** it is silent since then over time that we watched; null: it isn't */
  readonly silentSince: Instant | null;
}

/** A silence in which nothing came later that closes it. */
export interface Silence {
  readonly site: string;
  readonly gateway: string;
  readonly from: Instant;
  readonly to: Instant | null;
}

export interface Completeness {
  readonly sites: number;
  readonly known: number;
  readonly through: Instant;
  readonly missing: readonly {
    readonly site: string;
    readonly gateway: string;
    readonly since: Instant | null;
  }[];
}

/**
 * For how many sites all is known of a power event, and which gateways haven't delivered. Sites that told nothing of it
 * count: what their gateways still hold back may tell of it. A gateway without promised heartbeats may simply have nothing
 * to tell; it counts as missing only where it was never heard, or not since before the event began.
 */
export function completenessOf(
  words: readonly GatewayWord[],
  silences: readonly Silence[],
  { from, through }: { readonly from: Instant; readonly through: Instant },
): Completeness {
  const sites = new Set(words.map(({ site }) => site));
  const missing = words
    .filter(({ lastLife, silentSince }) => {
      if (lastLife === null || lastLife < from) return true;
      return silentSince !== null && silentSince < through;
    })
    .map(({ site, gateway, lastLife }) => ({ site, gateway, since: lastLife }));
  const inGaps = silences
    .filter((gap) => gap.from < through && (gap.to ?? Infinity) > from)
    .filter((gap) => !missing.some((one) => one.site === gap.site && one.gateway === gap.gateway))
    .map(({ site, gateway, from: since }) => ({ site, gateway, since }));
  const all = [...missing, ...inGaps].sort(
    (a, b) => Number(a.site > b.site) - Number(a.site < b.site) || (a.gateway < b.gateway ? -1 : 1),
  );
  const lacking = new Set(all.map(({ site }) => site));
  return { sites: sites.size, known: sites.size - lacking.size, through, missing: all };
}
