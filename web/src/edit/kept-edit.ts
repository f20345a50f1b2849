import { keep, kept, keptKeys } from '../page/device-store.ts';

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

let isSignedOut = false;

export function keepEdit(site: string, edit: KeptEdit | null): void {
  if (!isSignedOut) keep(PREFIX + site, edit === null ? null : JSON.stringify(edit));
}

/** At sign-out: whoever has this device next reads nothing of what wasn’t saved, and an editor that is open keeps no more. */
export function dropEdits(): void {
  isSignedOut = true;
  keptKeys(PREFIX).forEach((key) => keep(key, null));
}

/** Begins a site that isn’t there yet: the editor opens it as unsaved. */
export const beginSite = (site: string, draft: unknown): void =>
  keepEdit(site, { revision: 0, base: {}, draft, at: Date.now() * 1000 });

/** Sites that were begun on this device and never saved. */
export const begunSites = (): { readonly id: string; readonly name: string }[] =>
  keptKeys(PREFIX).flatMap((key) => {
    const id = key.slice(PREFIX.length);
    const edit = readEdit(id);
    if (edit?.revision !== 0) return [];
    const { name } = edit.draft as { readonly name?: unknown };
    return [{ id, name: typeof name === 'string' && name !== '' ? name : id }];
  });
