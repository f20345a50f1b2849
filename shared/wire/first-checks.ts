import type { EventCause, EventKind } from '../inference/event.ts';
import { checksFor, FIRST_STEP } from '../visit/checks.ts';

/** What a technician looks at first, as lines of a notice, and the cautions of every such page (handbook 8). */
export function firstChecks(kind: EventKind, cause: EventCause | null): readonly string[] {
  const checks = checksFor(kind, cause).map(({ says }) => says);
  return checks.length === 0 ? [] : [FIRST_STEP, ...checks];
}

export const CAUTIONS: readonly string[] = [
  'Work is for qualified, licensed people. Isolate with lockout/tagout and prove dead (29 CFR 1910.147, 1910.333).',
  'A waiting unit starts by itself, without warning.',
  'Gateway and alarm wires may stay live with the disconnect open: prove those dead too.',
  'A generator may start by itself and is a second source.',
  'A welded contactor runs the compressor with no protection, and only the disconnect stops it.',
  'Capacitors hold charge.',
  'Refrigerant work needs EPA 608 certification (40 CFR 82 F); mildly flammable refrigerants need their own tools and ventilation (UL 60335-2-40, ASHRAE 15).',
  'Never jumper a pressure switch or hold in a contactor.',
  'Don’t reset a lockout repeatedly.',
  'Local codes and the unit’s own instructions come first.',
  'No alarm here doesn’t prove that a unit is safe.',
];
