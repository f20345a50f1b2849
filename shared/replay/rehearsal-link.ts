import { REFERENCE_SETTINGS, type ControlSettings } from '../control/settings.ts';
import type { ControlInputs } from '../control/state.ts';
import { QUIET_INPUTS, REHEARSAL_BOUNDS, type Rehearsal, type RehearsalStep } from './rehearsal.ts';

/**
 * A rehearsal in an address, whole: `1_od240-ofs_c1_2s*c1-dw*h1_jps`. Version; settings that aren't the reference's; inputs at the
 * beginning that aren't quiet; steps (time in ms, in base 36, and what changes); how far it was played. Of letters,
 * digits and `. * - _` alone, which no program that passes links on writes otherwise. A later version reads this one.
 */
const LINK_VERSION = '1';
/** Browsers and messengers carry so much. */
const LINK_LENGTH = 8_000;

type NumberSetting = {
  [K in keyof ControlSettings]: ControlSettings[K] extends number | null ? K : never;
}[keyof ControlSettings];
type ChoiceSetting = Exclude<keyof ControlSettings, NumberSetting>;

/** Names of two letters, and the ranges of handbook 2.1 and of the site's document. */
const NUMBERS: Readonly<Record<NumberSetting, readonly [code: string, least: number, most: number]>> = {
  offDelay: ['od', 0, 3600],
  powerUpBase: ['pb', 0, 600],
  powerUpShare: ['ps', 0, 1],
  lowPressureBypass: ['lb', 0, 600],
  undervoltageTrip: ['ut', 5, 24],
  undervoltageStartGrace: ['ug', 0, 60],
  holdUp: ['hu', 0, 10],
};
const CHOICES: { readonly [K in ChoiceSetting]: readonly [code: string, ...ways: ControlSettings[K][]] } = {
  offDelayFrom: ['of', 'call', 'stop'],
  lowPressureRetry: ['lr', 'bypass-again', 'closed-needed'],
  stopsCounted: ['sc', 'together', 'by-switch'],
  undervoltageDelayFrom: ['ud', 'drop', 'recovery'],
};

const INPUTS: readonly (readonly [letter: string, name: 'call' | 'highPressureOpen' | 'lowPressureOpen'])[] =
  [
    ['c', 'call'],
    ['h', 'highPressureOpen'],
    ['l', 'lowPressureOpen'],
  ];

/** null: it is too long for a link. */
export function rehearsalLink({ settings, opening, steps, until }: Rehearsal): string | null {
  const text = [
    LINK_VERSION,
    settingsText(settings),
    inputsText(differing(opening)),
    steps.map(({ at, change }) => `${at.toString(36)}*${inputsText(change)}`).join('-'),
    until.toString(36),
  ].join('_');
  return text.length > LINK_LENGTH || steps.length > REHEARSAL_BOUNDS.steps ? null : text;
}

function settingsText(settings: ControlSettings): string {
  const parts: string[] = [];
  for (const [name, [code]] of entries(NUMBERS))
    if (settings[name] !== REFERENCE_SETTINGS[name]) parts.push(`${code}${numberText(settings[name])}`);
  for (const [name, [code, ...ways]] of entries(CHOICES))
    if (settings[name] !== REFERENCE_SETTINGS[name])
      parts.push(`${code}${(ways as readonly string[]).indexOf(settings[name])}`);
  return parts.join('-');
}

const entries = <T extends object>(of: T) => Object.entries(of) as [keyof T, T[keyof T]][];

/** `n`: none. To the millionth, as the reader takes it. */
const numberText = (value: number | null): string =>
  value === null ? 'n' : String(Number(value.toFixed(6)));

const differing = (inputs: ControlInputs): Partial<ControlInputs> =>
  Object.fromEntries(
    entries(inputs).filter(([name, value]) => value !== QUIET_INPUTS[name]),
  ) as Partial<ControlInputs>;

const inputsText = (change: Partial<ControlInputs>): string =>
  [
    ...INPUTS.flatMap(([letter, name]) =>
      change[name] === undefined ? [] : `${letter}${change[name] ? 1 : 0}`,
    ),
    ...(change.controlVoltage === undefined ? [] : [`v${numberText(change.controlVoltage)}`]),
  ].join('');

export type ReadLink =
  { readonly ok: true; readonly rehearsal: Rehearsal } | { readonly ok: false; readonly says: string };

const no = (says: string): ReadLink => ({ ok: false, says });

export function readRehearsalLink(text: string): ReadLink {
  if (text.length > LINK_LENGTH) return no('This link is too long to be one of a rehearsal.');
  const [version, settingsPart, openingPart, stepsPart, untilPart, ...more] = text.split('_');
  if (version !== LINK_VERSION)
    return no('This link is of a newer version, or it was changed on its way: ask for it again.');
  const settings = readSettings(settingsPart ?? '');
  const opening = readInputs(openingPart ?? '');
  const steps = readSteps(stepsPart ?? '');
  const until = readTime(untilPart ?? '');
  if (!settings || !opening || !steps || until === null || more.length > 0)
    return no('This link was changed on its way, or cut: ask for it again.');
  return { ok: true, rehearsal: { settings, opening: { ...QUIET_INPUTS, ...opening }, steps, until } };
}

function readSettings(text: string): ControlSettings | null {
  const settings: Record<string, number | string | null> = { ...REFERENCE_SETTINGS };
  for (const part of text === '' ? [] : text.split('-')) {
    const [code, value] = [part.slice(0, 2), part.slice(2)];
    const read = readNumber(code, value) ?? readChoice(code, value);
    if (!read) return null;
    settings[read[0]] = read[1];
  }
  return settings as unknown as ControlSettings;
}

type Read = readonly [name: string, value: number | string | null];

function readNumber(code: string, value: string): Read | null {
  for (const [name, [own, least, most]] of entries(NUMBERS)) {
    if (own !== code) continue;
    if (value === 'n') return name === 'undervoltageTrip' ? [name, null] : null;
    const number = decimal(value);
    return number !== null && number >= least && number <= most ? [name, number] : null;
  }
  return null;
}

function readChoice(code: string, value: string): Read | null {
  for (const [name, [own, ...ways]] of entries(CHOICES)) {
    if (own === code) return /^[01]$/.test(value) ? [name, ways[Number(value)]!] : null;
  }
  return null;
}

const decimal = (text: string): number | null => (/^\d{1,6}(\.\d{1,6})?$/.test(text) ? Number(text) : null);

function readInputs(text: string): Partial<ControlInputs> | null {
  const parts = /^(?:c([01]))?(?:h([01]))?(?:l([01]))?(?:v([\d.]+))?$/.exec(text);
  if (!parts) return null;
  const change: { -readonly [K in keyof ControlInputs]?: ControlInputs[K] } = {};
  for (const [i, [, name]] of INPUTS.entries())
    if (parts[i + 1] !== undefined) change[name] = parts[i + 1] === '1';
  if (parts[4] === undefined) return change;
  const volts = decimal(parts[4]);
  if (volts === null || volts > REHEARSAL_BOUNDS.volts) return null;
  return { ...change, controlVoltage: volts };
}

function readSteps(text: string): RehearsalStep[] | null {
  const parts = text === '' ? [] : text.split('-');
  if (parts.length > REHEARSAL_BOUNDS.steps) return null;
  const steps: RehearsalStep[] = [];
  for (const part of parts) {
    const [time = '', inputs = '', ...more] = part.split('*');
    const [at, change] = [readTime(time), readInputs(inputs)];
    if (at === null || !change || inputs === '' || more.length > 0) return null;
    if (at <= (steps.at(-1)?.at ?? -1)) return null;
    steps.push({ at, change });
  }
  return steps;
}

function readTime(text: string): number | null {
  if (!/^[0-9a-z]{1,6}$/.test(text)) return null;
  const at = parseInt(text, 36);
  return at <= REHEARSAL_BOUNDS.milliseconds ? at : null;
}
