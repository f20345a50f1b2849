import { mkdir, readFile, rename, writeFile } from 'node:fs/promises';
import { dirname } from 'node:path';
import type { Instant } from '../../shared/base/instant.ts';
import type { BuildingState } from '../../shared/building/building-state.ts';

/**
 * How far the demonstration has got: written down once everything before it is acknowledged, so that a later start goes
 * on with the very same building. What was told since is told again, and the same sample again changes nothing.
 */
export interface DemoNotes {
  /** of plans, documents and the shape of the state: other notes are of no use */
  readonly edition: string;
  /** instants of the cycles that have begun or will begin */
  readonly cycles: readonly Instant[];
  readonly states: Readonly<Record<string, BuildingState>>;
}

/** null: none, unreadable, or of another edition. */
export async function readNotes(path: string, edition: string): Promise<DemoNotes | null> {
  try {
    const notes = JSON.parse(await readFile(path, 'utf8')) as Partial<DemoNotes>;
    return notes.edition === edition && notes.states && notes.cycles ? (notes as DemoNotes) : null;
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
