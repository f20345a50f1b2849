import type { UnitView } from '../../../shared/wire/unit-view.ts';
import type { ChartSource } from '../chart/chart-record.svelte.ts';

/** The points of the unit's chart by device, and the events that name it. */
export function unitSource(site: string, view: UnitView): ChartSource {
  const devices = new Map<string, string[]>();
  for (const { device, signal } of view.points) devices.set(device, [...(devices.get(device) ?? []), signal]);
  return {
    site,
    devices: [...devices].map(([device, signals]) => ({ device, signals })),
    events: { unit: view.unit.id },
    holds: (event) =>
      event.site === site && (event.unit === view.unit.id || event.members.includes(view.unit.id)),
  };
}
