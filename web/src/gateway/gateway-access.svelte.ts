import type { GatewayAccess } from '../../../shared/wire/gateway-access.ts';
import { fetchAnswer, Refused } from '../net/http.ts';

/** A site's gateways at the broker, asked again while the page is open: refusals come as gateways knock. */
export class GatewayDesk {
  readonly site: string;
  answer = $state.raw<GatewayAccess | null>(null);
  refused = $state.raw<Refused | null>(null);

  constructor(site: string) {
    this.site = site;
  }

  async load(): Promise<void> {
    try {
      this.answer = await fetchAnswer<GatewayAccess>(`/sites/${encodeURIComponent(this.site)}/gateways`);
      this.refused = null;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }

  follow(): () => void {
    void this.load();
    const timer = setInterval(() => void this.load(), AGAIN_MS);
    return () => clearInterval(timer);
  }
}

const AGAIN_MS = 10_000;
