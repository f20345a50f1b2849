import type { ReplaySettings } from '../../../shared/wire/replay-ask.ts';
import type { UnitSetting, UnitView } from '../../../shared/wire/unit-view.ts';

/** The form's fields and what they ask for: only what differs from today's value is sent. */
export interface Field {
  /** `unit-2.offDelay`, `panel-a.minimumStartSeparation`, `room-1.temperature` */
  readonly key: string;
  readonly device: string;
  readonly setting: string;
  readonly today: number | string | null;
  readonly measure: UnitSetting['measure'] | '°C';
  /** where it may only be one of these */
  readonly choices: readonly string[] | null;
  readonly range: readonly [low: number, high: number, step: number] | null;
  readonly of: 'unit' | 'panel' | 'space';
}

const CHOICES: Readonly<Record<string, readonly string[]>> = {
  offDelayFrom: ['either', 'call', 'stop'],
  lowPressureRetry: ['either', 'closed-needed', 'bypass-again'],
  stopsCounted: ['either', 'together', 'by-switch'],
  undervoltageDelayFrom: ['either', 'drop', 'recovery'],
};

/** Bounds of the site's document (shared/wire/site-document.ts), with a step for the buttons. */
const RANGES: Readonly<Record<string, readonly [number, number, number]>> = {
  offDelay: [30, 300, 1],
  powerUpBase: [0, 600, 1],
  powerUpShare: [0, 1, 0.01],
  lowPressureBypass: [0, 600, 1],
  undervoltageTrip: [5, 24, 0.1],
  undervoltageStartGrace: [0, 60, 0.1],
  holdUp: [0, 10, 0.01],
  minimumStartSeparation: [0, 600, 0.1],
  temperature: [-40, 90, 0.5],
};

export const unitFields = ({ unit, settings }: UnitView): Field[] =>
  settings.map(({ name, value, measure }) => ({
    key: `${unit.id}.${name}`,
    device: unit.id,
    setting: name,
    today: value,
    measure,
    choices: CHOICES[name] ?? null,
    range: RANGES[name] ?? null,
    of: 'unit',
  }));

/** Limits of the panels and spaces of the units, each once. */
export function limitFields(views: readonly UnitView[]): (Field & { readonly name: string })[] {
  const found = views.flatMap(({ panel, space }) => [
    limit(panel.name, 'panel', panel.id, 'minimumStartSeparation', panel.minimumStartSeparation, 's'),
    limit(space.name, 'space', space.id, 'temperature', space.temperatureLimit, '°C'),
  ]);
  const given = found.filter(({ today }) => today !== null);
  return [...new Map(given.map((field) => [field.key, field])).values()];
}

const limit = (
  name: string,
  of: Field['of'],
  device: string,
  setting: string,
  today: number | null,
  measure: Field['measure'],
) => ({
  name,
  key: `${device}.${setting}`,
  device,
  setting,
  today,
  measure,
  choices: null,
  range: RANGES[setting]!,
  of,
});

export const todayText = ({ today }: Field): string => (today === null ? '' : String(today));

export const isChanged = (field: Field, text: string): boolean => text !== todayText(field);

/** What is otherwise than today, as a replay is asked. */
export function settingsOf(
  fields: readonly Field[],
  texts: Readonly<Record<string, string>>,
): ReplaySettings {
  const lists = {
    unit: new Map<string, object>(),
    panel: new Map<string, object>(),
    space: new Map<string, object>(),
  };
  for (const field of fields) {
    const text = texts[field.key] ?? todayText(field);
    if (!isChanged(field, text)) continue;
    const value = field.choices ? text : text === '' ? null : Number(text);
    const part = (lists[field.of].get(field.device) ?? { id: field.device }) as Record<string, unknown>;
    const within = field.of === 'unit' ? 'protection' : field.of === 'space' ? 'limits' : null;
    const target = within === null ? part : ((part[within] ??= {}) as Record<string, unknown>);
    target[field.setting] = value;
    lists[field.of].set(field.device, part);
  }
  const given = (list: Map<string, object>, name: string) =>
    list.size > 0 ? { [name]: [...list.values()] } : {};
  return {
    ...given(lists.unit, 'units'),
    ...given(lists.panel, 'panels'),
    ...given(lists.space, 'spaces'),
  } as ReplaySettings;
}
