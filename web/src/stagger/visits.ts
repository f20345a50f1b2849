import type { StaggerItem } from '../../../shared/wire/stagger-answer.ts';

/** What is set in one go: the panels of a site. */
export interface Visit {
  readonly site: StaggerItem['site'];
  readonly items: readonly StaggerItem[];
}

/** Those that would spare most first. */
export function visitsOf(items: readonly StaggerItem[]): Visit[] {
  const visits = new Map<string, StaggerItem[]>();
  for (const item of items) visits.set(item.site.id, [...(visits.get(item.site.id) ?? []), item]);
  const spared = (visit: Visit): number => visit.items.reduce((sum, one) => sum + one.spared, 0);
  return [...visits.values()]
    .map((own) => ({ site: own[0]!.site, items: own }))
    .sort((a, b) => spared(b) - spared(a));
}
