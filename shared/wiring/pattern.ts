import { signalRow, type SignalName } from '../telemetry/signals.ts';
import { deviceIn, isNamed, type Place } from './guess.ts';
import type { HeardValue } from './heard.ts';
import { guessByName } from './names.ts';

/**
 * Many at once: `plant/{unit}/di/+/state` is every value on such a topic, `{unit}` names whose it is, `+` any one level. The
 * signal is chosen for all of them, or told by the name of each.
 */
export interface Proposal {
  readonly heard: HeardValue;
  readonly device: string;
  readonly signal: SignalName;
}

export interface Expanded {
  readonly proposals: readonly Proposal[];
  /** what matches and can't be proposed, with the reason */
  readonly left: readonly { readonly heard: HeardValue; readonly why: string }[];
}

const DEVICE_LEVEL = '{unit}';

/** What keeps a text from being a pattern, in words; null: it is one. */
export function patternFault(pattern: string): string | null {
  const levels = pattern.split('/');
  if (pattern === '') return 'Write a topic with {unit} where the unit’s name stands.';
  if (levels.filter((level) => level.includes(DEVICE_LEVEL)).length !== 1)
    return 'Write {unit} once: where the name of the unit stands.';
  if (levels.some((level) => level.includes('#') || (level.includes('+') && level !== '+')))
    return 'A + stands for a whole level by itself, and # for nothing here.';
  return null;
}

/** What `{unit}` stands for in a topic; null: the topic isn't of the pattern. */
export function matchPattern(pattern: string, topic: string): string | null {
  const [asked, given] = [pattern.split('/'), topic.split('/')];
  if (asked.length !== given.length) return null;
  let unit: string | null = null;
  for (const [i, level] of asked.entries()) {
    const word = given[i]!;
    if (level === '+' || level === word) continue;
    const [before, after] = level.split(DEVICE_LEVEL);
    if (after === undefined || word.length <= before!.length + after.length) return null;
    if (!word.startsWith(before!) || !word.endsWith(after)) return null;
    unit = word.slice(before!.length, word.length - after.length);
  }
  return unit;
}

/** The topic that a pattern is for a unit, where nothing else is open; the way back from `matchPattern`. */
export const collapsePattern = (topic: string, unit: string): string | null => {
  const levels = topic.split('/');
  const at = levels.findIndex((level) => level.includes(unit));
  if (unit === '' || at < 0) return null;
  return levels.with(at, levels[at]!.replace(unit, DEVICE_LEVEL)).join('/');
};

/** `signal`: for all of them; null: by the name of each. */
export function expandPattern(
  pattern: string,
  signal: SignalName | null,
  heard: readonly HeardValue[],
  places: readonly Place[],
): Expanded {
  const proposals: Proposal[] = [];
  const left: { heard: HeardValue; why: string }[] = [];
  const taken = new Set<string>();
  for (const one of heard) {
    const word = matchPattern(pattern, one.topic);
    if (word === null || one.form === 'text' || one.form === 'time') continue;
    const what = signal ?? guessByName(`${one.topic.replace(word, '')}${one.pointer}`)?.signal ?? null;
    if (what === null) left.push({ heard: one, why: 'its name doesn’t say which signal it is' });
    else {
      const device = placeNamed(word, places, what);
      if (device === null) left.push({ heard: one, why: `no ${onWhat(what)} goes by “${word}”` });
      else if (taken.has(`${device}/${what}`))
        left.push({ heard: one, why: `${device} would have its ${signalRow(what).name} twice` });
      else {
        taken.add(`${device}/${what}`);
        proposals.push({ heard: one, device, signal: what });
      }
    }
  }
  return { proposals, left };
}

const onWhat = (signal: SignalName): string =>
  signalRow(signal)
    .on.filter((kind) => kind !== 'gateway')
    .join(' or ');

/** By its id or name; else by its number alone, where only one has it. */
function placeNamed(word: string, places: readonly Place[], signal: SignalName): string | null {
  const may = places.filter(({ kind }) => signalRow(signal).on.includes(kind));
  const exact = may.find(({ id }) => id === word.toLowerCase());
  if (exact) return exact.id;
  const named = deviceIn(word, may.length === 1 ? [] : may, signal);
  if (named !== null) return named;
  if (!/^\d+$/.test(word)) return may.length === 1 && isNamed(may[0]!, [word]) ? may[0]!.id : null;
  const numbered = may.filter(({ id }) => Number(/(\d+)$/.exec(id)?.[1] ?? NaN) === Number(word));
  return numbered.length === 1 ? numbered[0]!.id : null;
}
