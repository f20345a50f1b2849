import { newKind, show, type KindTally, type SetupTally } from './tally.ts';

/** Adds one tally to another of the same row. */
export function mergeInto(into: SetupTally, from: Omit<SetupTally, 'isShown'>): void {
  addNumbers(into, from);
  for (const [name, kind] of from.kinds) {
    const was: KindTally = into.kinds.get(name) ?? newKind();
    into.kinds.set(name, was);
    addNumbers(was, kind);
    was.timing.push(...kind.timing);
    was.toldAfter.push(...kind.toldAfter);
  }
  for (const line of from.examples) show(into, line);
}

function addNumbers<T extends object>(into: T, from: Partial<T>): void {
  for (const name of Object.keys(from) as (keyof T)[])
    if (typeof from[name] === 'number') (into[name] as number) += from[name];
}
