import type { Instant } from '../../../shared/base/instant.ts';

/** Since when what this page shows is kept on this device; null: the server answers. */
class KeptNote {
  since = $state<Instant | null>(null);

  /** Of each answer: when it was kept, or null where the server gave it just now. The oldest counts. */
  heard(keptAt: Instant | null): void {
    this.since = keptAt === null ? null : Math.min(this.since ?? keptAt, keptAt);
  }
}
export const keptNote = new KeptNote();
