import type { EventCause, EventKind } from '../inference/event.ts';

/**
 * What a technician looks at first, in check order, and the cautions of every such page (handbook 8; common practice, no
 * source, where no standard is named). Never as percentages: the order is all that is claimed.
 */
const HIGH_PRESSURE = [
  'Outdoor coil blocked or dirty, or hot air drawn back in.',
  'Outdoor fan: motor, capacitor, blade.',
  'Very hot day, very hot room after an outage (passes by itself), or a blocked louvre.',
  'Overcharge: was work done on it recently?',
  'Non-condensables, or a restriction after the condenser.',
  'The switch or its wiring.',
];

const LOW_PRESSURE = [
  'Filter or return blocked, registers shut.',
  'Indoor fan: motor, belt, capacitor.',
  'Indoor coil iced (thaw it first) or dirty.',
  'Room or set point very cold, or cold outdoors with no head-pressure control.',
  'With gauges: charge or leak; metering device or drier.',
  'The switch or its wiring.',
];

const NO_POWER = [
  'Breaker and disconnect.',
  'Control transformer and its fuse.',
  'Find the short (often the contactor coil or field wiring) before replacing a fuse, and never fit a larger one.',
];

const DROPS_AT_STARTS = ['Weak supply.', 'Loose connection.', 'Start capacitor.', 'Tight compressor.'];

const EITHER_PRESSURE = [
  'Read what the control itself shows: it may tell which switch it was.',
  'Outdoor coil blocked or dirty; outdoor fan not turning.',
  'Filter or return blocked; indoor fan not turning; indoor coil iced (thaw it first).',
  'The switches or their wiring.',
];

const BY_CAUSE: Partial<Record<EventCause, readonly string[]>> = {
  'high-pressure': HIGH_PRESSURE,
  'low-pressure': LOW_PRESSURE,
  pressure: EITHER_PRESSURE,
  'unit-only': NO_POWER,
  undervoltage: DROPS_AT_STARTS,
};

const BY_KIND: Partial<Record<EventKind, readonly string[]>> = {
  'hard-lockout': EITHER_PRESSURE,
  'undervoltage-hold': DROPS_AT_STARTS,
  'stuck-contactor': [
    'The contactor may be welded: only the disconnect stops the compressor.',
    'The sensing of the current and of the output.',
  ],
  'failed-start': ['Contactor and its coil.', 'Compressor protector, capacitor, terminals.', 'Breaker.'],
  'weak-cooling': ['Filter and indoor coil.', 'Both fans.', 'With gauges: charge.'],
};

const FIRST =
  'Before breaking power or call, write down what the control itself shows: breaking power may clear it.';

export const firstChecks = (kind: EventKind, cause: EventCause | null): readonly string[] => {
  const checks = (cause === null ? undefined : BY_CAUSE[cause]) ?? BY_KIND[kind] ?? [];
  return checks.length === 0 ? [] : [FIRST, ...checks];
};

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
