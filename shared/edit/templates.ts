import type { PointDocument, SiteDocument, UnitDocument } from '../wire/site-document.ts';

/**
 * Usual wirings to begin a site from (common practice, no source): how many units, whether they share a room, and how much of
 * each is wired. What comes out is a document like any other: to be looked at, changed and proven on site.
 */
export interface Template {
  readonly id: string;
  readonly name: string;
  readonly says: string;
  readonly units: number;
  /** two units in lead/lag share a room that one of them can carry; each classroom has its own */
  readonly rooms: 'shared' | 'each-its-own';
  readonly phases: 1 | 3;
  readonly generator: boolean;
}

export const TEMPLATES: readonly Template[] = [
  {
    id: 'shelter-two-units',
    name: 'Shelter, two units, lead/lag',
    says: 'One equipment room, two units on one panel; one of them can carry it.',
    units: 2,
    rooms: 'shared',
    phases: 1,
    generator: false,
  },
  {
    id: 'shelter-generator',
    name: 'Shelter, two units, standby generator',
    says: 'As above, with contacts that tell when the utility has failed and the generator runs.',
    units: 2,
    rooms: 'shared',
    phases: 1,
    generator: true,
  },
  {
    id: 'classroom-one-unit',
    name: 'Classroom, one unit',
    says: 'A modular classroom with a unit on its wall, in use on school days.',
    units: 1,
    rooms: 'each-its-own',
    phases: 1,
    generator: false,
  },
  {
    id: 'classrooms-four-units',
    name: 'Four classrooms on one panel',
    says: 'Four rooms, a unit each, fed by one panel: their starts are looked at together.',
    units: 4,
    rooms: 'each-its-own',
    phases: 1,
    generator: false,
  },
  {
    id: 'equipment-room-three-phase',
    name: 'Equipment room, three units, three-phase',
    says: 'One room, three units on a three-phase panel.',
    units: 3,
    rooms: 'shared',
    phases: 3,
    generator: false,
  },
];

/** How much of each unit is wired. */
export const WIRINGS = {
  minimal: 'Minimal: call, output and control power of each unit',
  usual: 'Usual: with the alarm contact, the pressure switches and the room’s temperature',
  full: 'Full: with the compressor’s current, air temperatures, the panel’s voltage and the weather',
} as const;
export type Wiring = keyof typeof WIRINGS;

const onChange = (signal: PointDocument['signal'], more: Partial<PointDocument> = {}): PointDocument => ({
  signal,
  reporting: { mode: 'on-change' },
  ...more,
});
const polled = (signal: PointDocument['signal'], seconds: number): PointDocument => ({
  signal,
  reporting: { mode: 'polled', seconds },
});

const MINIMAL = [onChange('cooling-call'), onChange('compressor-output'), polled('control-voltage', 5)];
const USUAL = [
  ...MINIMAL,
  onChange('lockout-alarm'),
  onChange('high-pressure', { contact: 'normally-closed' }),
  onChange('low-pressure', { contact: 'normally-closed' }),
];
const UNIT_POINTS: Readonly<Record<Wiring, readonly PointDocument[]>> = {
  minimal: MINIMAL,
  usual: USUAL,
  full: [
    ...USUAL,
    polled('compressor-current', 5),
    polled('supply-air-temperature', 60),
    polled('return-air-temperature', 60),
  ],
};

export interface Begun {
  readonly name: string;
  readonly timeZone: string;
  readonly wiring: Wiring;
}

export function siteOf(template: Template, { name, timeZone, wiring }: Begun): SiteDocument {
  const shared = template.rooms === 'shared';
  const rooms = shared ? ['room'] : numbered('room', template.units);
  const units = numbered('unit', template.units).map((id, i): UnitDocument => {
    const role = shared && template.units > 1 ? { role: i === 0 ? ('lead' as const) : ('lag' as const) } : {};
    const room = rooms[shared ? 0 : i]!;
    return {
      id,
      name: `Unit ${i + 1}`,
      panel: 'panel-a',
      space: room,
      ...role,
      points: UNIT_POINTS[wiring].slice(),
    };
  });
  return {
    name,
    timeZone,
    gateways: [{ id: 'gateway', name: 'Gateway', heartbeatSeconds: 60 }],
    spaces: rooms.map((id, i) => ({
      id,
      name: shared ? 'Equipment room' : `Room ${i + 1}`,
      unitsNeeded: Math.max(1, shared ? template.units - 1 : 1),
      ...(shared ? {} : { inUse: [{ days: 'mon-fri', from: '07:00', to: '16:00' }] }),
      ...(wiring === 'minimal' ? {} : { points: [polled('space-temperature', 60)] }),
    })),
    panels: [{ id: 'panel-a', name: 'Panel A', ...voltageOf(template), ...panelPoints(template, wiring) }],
    units,
    ...(wiring === 'full' ? { points: [polled('outdoor-temperature', 60)] } : {}),
  };
}

const numbered = (word: string, count: number): string[] =>
  Array.from({ length: count }, (_, i) => `${word}-${i + 1}`);

const voltageOf = ({ phases }: Template) => ({ nominalVoltage: phases === 3 ? 208 : 240, phases });

function panelPoints({ phases, generator }: Template, wiring: Wiring): { points?: PointDocument[] } {
  const contacts = generator ? [onChange('utility-failed'), onChange('generator-running')] : [];
  const lines: readonly PointDocument['signal'][] =
    phases === 3 ? ['line-voltage-ab', 'line-voltage-bc', 'line-voltage-ca'] : ['line-voltage'];
  const voltages = wiring === 'full' ? lines.map((signal) => polled(signal, 1)) : [];
  const points = [...voltages, ...contacts];
  return points.length === 0 ? {} : { points };
}

/** What belongs to one site alone and isn't taken along. */
const OWN_OF_UNIT = ['serial', 'photos', 'notes'] as const;

/**
 * A new site wired as another: its parts, settings and points. What belongs to that site alone stays there: address, access,
 * contacts, notes, serial numbers, photos, known clock errors, and topics of its gateways’ own, which two sites can't share.
 */
export function copyOf(document: SiteDocument, name: string): SiteDocument {
  const { address: _a, location: _l, contacts: _c, access: _x, notes: _n, ...rest } = document;
  const renamed = (text: string | undefined) =>
    text === undefined || !document.name ? text : text.replaceAll(document.name, name);
  const ownName = <T extends { name?: string; points?: PointDocument[] }>(part: T): T => {
    const called = renamed(part.name);
    return {
      ...part,
      ...(called === undefined ? {} : { name: called }),
      ...(part.points ? { points: part.points.map(withoutSource) } : {}),
    };
  };
  const copy: SiteDocument = { ...rest, name };
  if (rest.gateways) copy.gateways = rest.gateways.map(({ clockOffsets: _, ...gateway }) => ownName(gateway));
  if (rest.spaces) copy.spaces = rest.spaces.map(({ notes: _, ...space }) => ownName(space));
  if (rest.panels) copy.panels = rest.panels.map(({ notes: _, ...panel }) => ownName(panel));
  if (rest.units)
    copy.units = rest.units.map((unit) => {
      const kept = Object.entries(unit).filter(([key]) => !(OWN_OF_UNIT as readonly string[]).includes(key));
      return ownName(Object.fromEntries(kept) as UnitDocument);
    });
  if (rest.points) copy.points = rest.points.map(withoutSource);
  return copy;
}

const withoutSource = ({ source: _s, sparkplug: _p, ...point }: PointDocument): PointDocument => point;

/** An id from a name: `Harrow Lane School` → `harrow-lane-school`. */
export const slugOf = (name: string): string =>
  name
    .normalize('NFKD')
    .replace(/[\u0300-\u036f]/g, '')
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^-+|-+$/g, '')
    .slice(0, 63);
