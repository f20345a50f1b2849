import type { EventDraft } from '../inference/event.ts';

/**
 * Starts that weren't kept apart after a power return: the newest of each panel, until a later restart there was separate
 * (handbook 5.3: only intervals that are surely apart are).
 */
export function notSeparate(together: readonly EventDraft[], events: readonly EventDraft[]): EventDraft[] {
  const panels = [...new Set(together.map(({ panel }) => panel))];
  return panels.map((panel) => {
    const newest = together
      .filter((one) => one.panel === panel)
      .toSorted((a, b) => b.start.latest - a.start.latest)[0]!;
    const apart = events.find(
      (one) =>
        one.kind === 'restart-sequence' &&
        one.panel === panel &&
        one.start.latest > newest.start.latest &&
        one.measures['verdict'] === 'separate',
    );
    return { ...newest, end: apart ? (apart.end ?? apart.start) : null };
  });
}
