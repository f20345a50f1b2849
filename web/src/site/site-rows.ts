import type { SignalName } from '../../../shared/telemetry/signals.ts';
import type { Site, Unit } from '../../../shared/telemetry/site.ts';
import type { EventAnswer } from '../../../shared/wire/event-answer.ts';
import { chartRow, type ChartRow } from '../chart/rows.ts';
import type { ChartSource } from '../chart/chart-record.svelte.ts';

/**
 * The rows of a site's chart: one lane a unit, showing its runs, under the panel that feeds it; then each panel's line
 * voltage; and the rooms' temperature where there are few rooms.
 */
const RUN_SIGNALS: readonly SignalName[] = ['compressor-output', 'contactor-voltage', 'compressor-current'];
const FEW_ROOMS = 2;

/** The signal that shows a unit's runs (handbook 4.1); null: nothing does. */
export const runSignal = (unit: Unit): SignalName | null =>
  RUN_SIGNALS.find((signal) => unit.points.some((point) => point.signal === signal)) ?? null;

export function siteRows(site: Site): readonly ChartRow[] {
  const units = site.units.flatMap((unit) => {
    const signal = runSignal(unit);
    return signal === null
      ? []
      : [
          chartRow(
            { ...unit.points.find((point) => point.signal === signal)!, device: unit.id },
            unit.name,
            [],
          ),
        ];
  });
  const panels = site.panels.flatMap((panel) =>
    panel.points
      .filter(({ signal }) => signal.startsWith('line-voltage'))
      .map((point) => {
        const sag = {
          signal: point.signal,
          value: Math.round(panel.nominalVoltage * 0.9),
          says: 'sag below',
        };
        return chartRow(point, `line voltage, ${panel.name}`, [sag]);
      }),
  );
  const rooms =
    site.spaces.length > FEW_ROOMS
      ? []
      : site.spaces.flatMap((space) =>
          space.points
            .filter(({ signal }) => signal === 'space-temperature')
            .map((point) => {
              const { signal } = point;
              const limit = space.temperatureLimit;
              return chartRow(
                point,
                `temperature, ${space.name}`,
                limit === null ? [] : [{ signal, value: limit, says: 'limit' }],
              );
            }),
        );
  return [...units, ...panels, ...rooms];
}

export function siteSource(site: Site): ChartSource {
  const devices = new Map<string, string[]>();
  for (const { device, signal } of siteRows(site))
    devices.set(device, [...(devices.get(device) ?? []), signal]);
  return {
    site: site.id,
    devices: [...devices].map(([device, signals]) => ({ device, signals })),
    events: {},
    holds: (event: EventAnswer) => event.site === site.id,
  };
}
