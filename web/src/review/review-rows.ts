import type { SignalName } from '../../../shared/telemetry/signals.ts';
import type { Point, Site } from '../../../shared/telemetry/site.ts';
import type { EventAnswer } from '../../../shared/wire/event-answer.ts';
import type { ChartSource } from '../chart/chart-record.svelte.ts';
import { chartRow, type ChartRow } from '../chart/rows.ts';
import { runSignal } from '../site/site-rows.ts';

/**
 * The rows of a review's chart, from the supply down: each panel's contacts and line voltage, then its units, each with
 * its runs and its control voltage with the trip.
 */
const SUPPLY: readonly SignalName[] = ['utility-failed', 'generator-running'];

export function reviewRows(site: Site): readonly ChartRow[] {
  const sites = site.points
    .filter(({ signal }) => SUPPLY.includes(signal))
    .map((point) => named(point, site.name));
  return [...sites, ...site.panels.flatMap((panel) => [...supplyRows(panel), ...unitRows(site, panel.id)])];
}

function supplyRows({ name, nominalVoltage, points }: Site['panels'][number]): ChartRow[] {
  const contacts = points.filter(({ signal }) => SUPPLY.includes(signal)).map((point) => named(point, name));
  const lines = points
    .filter(({ signal }) => signal.startsWith('line-voltage'))
    .map((point) => {
      const sag = { signal: point.signal, value: Math.round(0.9 * nominalVoltage), says: 'sag below' };
      return chartRow(point, `line voltage, ${name}`, [sag]);
    });
  return [...contacts, ...lines];
}

function unitRows(site: Site, panel: string): ChartRow[] {
  return site.units
    .filter((unit) => unit.panel === panel)
    .flatMap((unit) => {
      const signal = runSignal(unit);
      const run = unit.points.find((point) => point.signal === signal);
      const control = unit.points.find((point) => point.signal === 'control-voltage');
      const trip = unit.protection.undervoltageTrip.value;
      const thresholds =
        trip === null ? [] : [{ signal: 'control-voltage' as const, value: trip, says: 'trip' }];
      return [
        ...(run ? [chartRow({ ...run, device: unit.id }, unit.name, [])] : []),
        ...(control
          ? [chartRow({ ...control, device: unit.id }, `control voltage, ${unit.name}`, thresholds)]
          : []),
      ];
    });
}

const WORDS: Partial<Record<SignalName, string>> = {
  'utility-failed': 'utility failed',
  'generator-running': 'generator running',
};
const named = (point: Point, of: string): ChartRow =>
  chartRow(point, `${WORDS[point.signal] ?? point.signal}, ${of}`, []);

export function reviewSource(site: Site): ChartSource {
  const devices = new Map<string, string[]>();
  for (const { device, signal } of reviewRows(site))
    devices.set(device, [...(devices.get(device) ?? []), signal]);
  return {
    site: site.id,
    devices: [...devices].map(([device, signals]) => ({ device, signals })),
    events: {},
    holds: (event: EventAnswer) => event.site === site.id,
  };
}
