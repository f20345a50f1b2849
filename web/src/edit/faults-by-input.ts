import { pointerOf } from '../../../shared/edit/change.ts';
import { placeOfPointer } from '../../../shared/edit/inputs.ts';
import type { Fault } from '../../../shared/wire/configuration.ts';

/** Faults by the pointer of the input that they are shown at; those of a part as a whole by its pointer and a star. */
export function faultsByInput(faults: readonly Fault[]): ReadonlyMap<string, readonly string[]> {
  const found = new Map<string, string[]>();
  for (const { pointer, message } of faults) {
    const { part, field } = placeOfPointer(pointer);
    const at = pointerOf(field ? [...part.path, ...field.path] : [...part.path, '*']);
    found.set(at, [...(found.get(at) ?? []), message]);
  }
  return found;
}
