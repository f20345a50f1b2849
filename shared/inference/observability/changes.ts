import type { Panel, Point, Protection, Site, Space, Unit } from '../../telemetry/site.ts';
import { signalRow, type SignalName } from '../../telemetry/signals.ts';
import { assumedIn, SETTINGS, type SettingName } from './assumed.ts';
import { eyesOf } from './eyes.ts';

/** What a change would take: words at a desk, someone who reads a dial, or an electrician. */
export type Effort = 'reporting' | 'recording' | 'wiring';

/** One thing that could be changed, and the site as it would be then. */
export interface Possible {
  readonly effort: Effort;
  /** in the imperative, without a full stop */
  readonly does: string;
  readonly site: Site;
}

/** Every single change that might tell more of a unit. */
export function possibleChanges(site: Site, unit: Unit): Possible[] {
  return [...ofReporting(site, unit), ...ofRecording(site, unit), ...ofWiring(site, unit)];
}

const nameOf = (signal: SignalName): string => signalRow(signal).name;
const withUnit = (site: Site, id: string, change: (unit: Unit) => Unit): Site => ({
  ...site,
  units: site.units.map((one) => (one.id === id ? change(one) : one)),
});
const withPoint = (unit: Unit, signal: SignalName, change: Partial<Point>): Unit => ({
  ...unit,
  points: unit.points.map((point) => (point.signal === signal ? { ...point, ...change } : point)),
});
const ON_CHANGE = { reporting: { mode: 'on-change' } } as const;

function ofReporting(site: Site, unit: Unit): Possible[] {
  const changes: Possible[] = unit.points.flatMap(({ signal, reporting }) =>
    reporting.mode === 'on-change'
      ? []
      : [
          {
            effort: 'reporting',
            does: `Report the ${nameOf(signal)} on change instead of every ${reporting.seconds} s`,
            site: withUnit(site, unit.id, (one) => withPoint(one, signal, ON_CHANGE)),
          },
        ],
  );
  const { run, others } = eyesOf(site, unit);
  const polled = others.filter((other) =>
    other.points.some(
      ({ signal, reporting }) => signal === 'compressor-output' && reporting.mode === 'polled',
    ),
  );
  if (run && polled.length > 0)
    changes.push({
      effort: 'reporting',
      does: `Report the compressor output of the panel’s other units on change`,
      site: polled.reduce(
        (all, { id }) => withUnit(all, id, (one) => withPoint(one, 'compressor-output', ON_CHANGE)),
        site,
      ),
    });
  for (const gateway of site.gateways)
    if (gateway.heartbeatSeconds === null && unit.points.some((point) => point.gateway === gateway.id))
      changes.push({
        effort: 'reporting',
        does: `Let ${gateway.id} promise a heartbeat every 60 s`,
        site: {
          ...site,
          gateways: site.gateways.map((one) => (one === gateway ? { ...one, heartbeatSeconds: 60 } : one)),
        },
      });
  return changes;
}

const record = (protection: Protection, names: readonly SettingName[]): Protection => ({
  ...protection,
  ...Object.fromEntries(names.map((name) => [name, { ...protection[name], known: 'recorded' }])),
});

function ofRecording(site: Site, unit: Unit): Possible[] {
  const changes: Possible[] = assumedIn(unit.protection).map(({ setting }) => ({
    effort: 'recording',
    does: `Record the ${SETTINGS[setting].name}`,
    site: withUnit(site, unit.id, (one) => ({ ...one, protection: record(one.protection, [setting]) })),
  }));
  const { roomTemperature, space } = eyesOf(site, unit);
  if (roomTemperature && space && space.temperatureLimit === null)
    changes.push({
      effort: 'recording',
      does: `Record the temperature limit of ${space.name}`,
      site: withSpace(site, space, { temperatureLimit: 30 }),
    });
  return changes;
}

const withSpace = (site: Site, space: Space, change: Partial<Space>): Site => ({
  ...site,
  spaces: site.spaces.map((one) => (one === space ? { ...one, ...change } : one)),
});
const withPanel = (site: Site, panel: Panel, change: Partial<Panel>): Site => ({
  ...site,
  panels: site.panels.map((one) => (one === panel ? { ...one, ...change } : one)),
});

/** as the unit's other points are sensed: on the same gateway, on change */
function newPoint(site: Site, unit: Unit, signal: SignalName): Point {
  const like = unit.points[0];
  return {
    device: unit.id,
    signal,
    gateway: like?.gateway ?? site.gateways[0]?.id ?? '',
    contact: 'normally-open',
    sense: signal.endsWith('-pressure') ? 'isolated' : 'own',
    alarmOn: 'energised',
    of: [],
    ...ON_CHANGE,
    debounceSeconds: 0.05,
    resolutionSeconds: 0.1,
    deadband: 0,
    range: signalRow(signal).range,
    scale: 1,
    offset: 0,
    source: null,
    sparkplug: null,
  };
}

/** In the order in which the trade would wire them. */
const WORTH_WIRING: readonly SignalName[] = [
  'compressor-output',
  'cooling-call',
  'lockout-alarm',
  'control-voltage',
  'high-pressure',
  'low-pressure',
  'compressor-current',
];

function ofWiring(site: Site, unit: Unit): Possible[] {
  const wired = new Set(unit.points.map(({ signal }) => signal));
  const changes: Possible[] = WORTH_WIRING.filter((signal) => !wired.has(signal)).map((signal) => ({
    effort: 'wiring',
    does: `Wire the ${nameOf(signal)}`,
    site: withUnit(site, unit.id, (one) => ({
      ...one,
      points: [...one.points, newPoint(site, unit, signal)],
    })),
  }));
  const { upstream, sharedAlarm, panel, space, line, roomTemperature } = eyesOf(site, unit);
  if (upstream)
    changes.push({
      effort: 'wiring',
      does: 'Sense the cooling call at the protection control’s own terminal',
      site: withUnit(site, unit.id, (one) => withPoint(one, 'cooling-call', { sense: 'own' })),
    });
  if (sharedAlarm)
    changes.push({
      effort: 'wiring',
      does: 'Wire an alarm contact of its own',
      site: withUnit(site, unit.id, (one) => withPoint(one, 'lockout-alarm', { of: [] })),
    });
  if (panel && !line)
    changes.push({
      effort: 'wiring',
      does: `Measure the line voltage of ${panel.name}`,
      site: withPanel(site, panel, { points: [...panel.points, newPoint(site, unit, 'line-voltage')] }),
    });
  if (space && !roomTemperature)
    changes.push({
      effort: 'wiring',
      does: `Measure the temperature of ${space.name}`,
      site: withSpace(site, space, { points: [...space.points, newPoint(site, unit, 'space-temperature')] }),
    });
  return changes;
}
