import type { Eyes } from './eyes.ts';
import type { Knowable } from './knowable.ts';
import { onlyConcluded } from './not-yet.ts';
import { ofPanel } from './of-panel.ts';
import { ofSpace } from './of-space.ts';
import { ofStops } from './of-stops.ts';
import { ofUnit } from './of-unit.ts';

/** Every kind of event with every cause: what these eyes can know of it. Always the same rows in the same order. */
export const knowablesOf = (eyes: Eyes): Knowable[] =>
  [...ofStops(eyes), ...ofUnit(eyes), ...ofPanel(eyes), ...ofSpace(eyes)].map(onlyConcluded);
