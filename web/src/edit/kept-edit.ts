import { keep, kept } from '../page/device-store.ts';

/** An edit that isn’t saved yet, kept on this device until it is, or is dropped. */
export interface KeptEdit {
  /** what the site was when it was begun; 0: there was none */
  readonly revision: number;
  readonly base: unknown;
  readonly draft: unknown;
  /** µs, by this device’s clock */
  readonly at: number;
}

const PREFIX = 'edit:';

export function readEdit(site: string): KeptEdit | null {
  try {
    const found = JSON.parse(kept(PREFIX + site) ?? 'null') as Partial<KeptEdit> | null;
    return found !== null && typeof found.revision === 'number' && found.draft !== undefined
      ? (found as KeptEdit)
      : null;
  } catch {
    return null; // written by another version
  }
}

export const keepEdit = (site: string, edit: KeptEdit | null): void =>
  keep(PREFIX + site, edit === null ? null : JSON.stringify(edit));

/** Begins a site that isn’t there yet: the editor opens it as unsaved. */
export const beginSite = (site: string, draft: unknown): void =>
  keepEdit(site, { revision: 0, base: {}, draft, at: Date.now() * 1000 });
