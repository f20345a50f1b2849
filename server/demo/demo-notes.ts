import { mkdir, readFile, rename, writeFile } from 'node:fs/promises';
import { dirname } from 'node:path';
import type { Instant } from '../../shared/base/instant.ts';
import type { BuildingState } from '../../shared/building/building-state.ts';

/**
 * How far the demonstration has got: written down once everything before it is acknowledged, so that a later start goes
 * on with the very same building. What was told since is told again, and the same sample again changes nothing.
 */
export interface DemoNotes {
  /** of plans, documents and the shape of the states: states of another edition are of no use */
  readonly edition: string;
  /** everything through here may have been told */
  readonly through: Instant;
  /** instants of the cycles that have begun or will begin */
  readonly cycles: readonly Instant[];
  readonly states: Readonly<Record<string, BuildingState>>;
}

/** Of another edition only `through` is of use. null: no notes, or none that can be read. */
export type FoundNotes =
  | { readonly kind: 'same'; readonly notes: DemoNotes }
  | { readonly kind: 'other'; readonly through: Instant }
  | null;

export async function readNotes(path: string, edition: string): Promise<FoundNotes> {
  try {
    const notes = JSON.parse(await readFile(path, 'utf8')) as Partial<DemoNotes>;
    if (typeof notes.through !== 'number') return null;
    const isSame = notes.edition === edition && notes.states && notes.cycles;
    return isSame ? { kind: 'same', notes: notes as DemoNotes } : { kind: 'other', through: notes.through };
  } catch {
    return null;
  }
}

/** Whole or not at all: written beside and renamed. */
export async function writeNotes(path: string, text: string): Promise<void> {
  await mkdir(dirname(path), { recursive: true });
  await writeFile(`${path}.new`, text);
  await rename(`${path}.new`, path);
}
