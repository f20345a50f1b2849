import { signalRow, type SignalName } from '../telemetry/signals.ts';
import type { SiteDocument } from '../wire/site-document.ts';
import { guessByBehaviour, type BehaviourGuess, type Surroundings } from './behaviour.ts';
import type { HeardValue } from './heard.ts';
import { guessByName, wordsOf, type NameGuess } from './names.ts';

/** What a value that nobody maps may be: which signal of which device, how sure, and why. To be accepted or changed by a person. */
export interface Guess {
  readonly signal: SignalName;
  /** null: it can't be told whose */
  readonly device: string | null;
  readonly certainty: 'certain' | 'probable' | 'possible';
  readonly because: string;
}

export interface Place {
  readonly id: string;
  readonly name: string;
  readonly kind: 'unit' | 'panel' | 'space' | 'site';
}

export function placesOf({ units = [], panels = [], spaces = [] }: SiteDocument): Place[] {
  const of = (kind: Place['kind']) => (one: { readonly id: string; readonly name?: string }) => ({
    ...{ id: one.id, name: one.name ?? one.id, kind },
  });
  return [
    ...units.map(of('unit')),
    ...panels.map(of('panel')),
    ...spaces.map(of('space')),
    { id: 'site', name: 'the site', kind: 'site' },
  ];
}

/** null: neither its name nor what it does says anything. */
export function guess(heard: HeardValue, places: readonly Place[], around: Surroundings): Guess | null {
  if (heard.form === 'text' || heard.form === 'time') return null;
  const name = `${heard.topic}${heard.pointer}`;
  const byName = fitting(guessByName(name), heard);
  const byBehaviour = guessByBehaviour(heard, around);
  const found = together(byName, byBehaviour);
  if (!found) return null;
  return { ...found, device: deviceIn(name, places, found.signal) };
}

/** A name that says contact where numbers come is no such name. */
function fitting(byName: NameGuess | null, { form }: HeardValue): NameGuess | null {
  if (!byName) return null;
  const isContact = signalRow(byName.signal).kind === 'contact';
  return isContact && form === 'number' ? null : byName;
}

function together(byName: NameGuess | null, does: BehaviourGuess | null): Omit<Guess, 'device'> | null {
  if (!byName) return does && { ...does };
  const says = `its name says ${byName.words.map((word) => `“${word}”`).join(' and ')}`;
  if (does?.signal === byName.signal)
    return { signal: byName.signal, certainty: 'probable', because: `${says}, and ${does.because}` };
  if (!does || byName.isPlain)
    return { signal: byName.signal, certainty: byName.isPlain ? 'probable' : 'possible', because: says };
  return does.certainty === 'probable'
    ? { ...does }
    : { signal: byName.signal, certainty: 'possible', because: says };
}

/** Whose it is: the one place whose id, name or number the name holds and that may have the signal; the only one that may. */
export function deviceIn(name: string, places: readonly Place[], signal: SignalName): string | null {
  const may = places.filter(({ kind }) => signalRow(signal).on.includes(kind));
  const words = wordsOf(name);
  const named = may.filter((place) => place.id !== 'site' && isNamed(place, words));
  if (named.length === 1) return named[0]!.id;
  return may.length === 1 && named.length === 0 ? may[0]!.id : null;
}

/** Is the place named by these words: `unit-1` by “unit1”, “unit 1”, “u1”; `Room 12` by “room12”. */
export function isNamed({ id, name }: Place, words: readonly string[]): boolean {
  return [id, name].some((text) => {
    const own = wordsOf(text);
    if (own.length === 0) return false;
    if (words.includes(own.join(''))) return true;
    return words.some((_, i) => own.every((word, k) => words[i + k] === word)) || isShort(own, words);
  });
}

/** `u1` for `unit-1`: the first letter and the number, leading zeros left out. */
function isShort(own: readonly string[], words: readonly string[]): boolean {
  const number = own.at(-1);
  if (own.length !== 2 || !/^\d+$/.test(number!)) return false;
  const short = new RegExp(`^(${own[0]}|${own[0]![0]})0*${Number(number)}$`);
  return words.some((word) => short.test(word));
}
