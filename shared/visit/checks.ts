import type { EventCause, EventKind } from '../inference/event.ts';

/**
 * What a technician looks at first, in check order, with what each takes to have along (handbook 8; common practice, no
 * source, where no standard is named). Never as percentages: the order is all that is claimed.
 */
export interface Check {
  readonly id: CheckId;
  readonly says: string;
  readonly bring: readonly string[];
}

const CHECKS = {
  // high pressure
  'outdoor-coil': check('Outdoor coil blocked or dirty, or hot air drawn back in.', 'coil brush and cleaner'),
  'outdoor-fan': check('Outdoor fan: motor, capacitor, blade.', 'fan motor', 'run capacitors'),
  'hot-day': check('Very hot day, very hot room after an outage (passes by itself), or a blocked louvre.'),
  overcharge: check(
    'Overcharge: was work done on it recently?',
    'gauges and thermometers',
    'recovery equipment',
  ),
  restriction: check(
    'Non-condensables, or a restriction after the condenser.',
    'gauges and thermometers',
    'recovery equipment',
  ),
  'high-switch': check('The switch or its wiring.', 'high-pressure switch'),
  // low pressure
  filter: check('Filter or return blocked, registers shut.', 'filters'),
  'indoor-fan': check('Indoor fan: motor, belt, capacitor.', 'belt', 'run capacitors'),
  'indoor-coil': check('Indoor coil iced (thaw it first) or dirty.', 'coil brush and cleaner'),
  cold: check('Room or set point very cold, or cold outdoors with no head-pressure control.'),
  charge: check(
    'With gauges: charge or leak; metering device or drier.',
    'gauges and thermometers',
    'leak detector',
    'refrigerant, scale and recovery equipment',
  ),
  'low-switch': check('The switch or its wiring.', 'low-pressure switch'),
  // which of the two isn't known
  'control-shows': check('Read what the control itself shows: it may tell which switch it was.'),
  'outdoor-side': check(
    'Outdoor coil blocked or dirty; outdoor fan not turning.',
    'coil brush and cleaner',
    'run capacitors',
  ),
  'indoor-side': check(
    'Filter or return blocked; indoor fan not turning; indoor coil iced (thaw it first).',
    'filters',
    'belt',
  ),
  switches: check('The switches or their wiring.', 'pressure switches'),
  // one unit without control power
  breaker: check('Breaker and disconnect.'),
  transformer: check(
    'Control transformer and its fuse.',
    'control transformer',
    'fuses of the rating that it has',
  ),
  short: check(
    'Find the short (often the contactor coil or field wiring) before replacing a fuse, and never fit a larger one.',
    'contactor',
  ),
  // drops at every start
  supply: check('Weak supply.', 'clamp meter that keeps the lowest and highest value'),
  connection: check('Loose connection.', 'torque screwdriver'),
  'start-capacitor': check('Start capacitor.', 'start capacitor and relay'),
  tight: check('Tight compressor.', 'clamp meter that keeps the lowest and highest value'),
  // contactor and compressor
  welded: check('The contactor may be welded: only the disconnect stops the compressor.', 'contactor'),
  sensing: check('The sensing of the current and of the output.'),
  contactor: check('Contactor and its coil.', 'contactor'),
  compressor: check('Compressor protector, capacitor, terminals.', 'run capacitors', 'insulation tester'),
  'compressor-breaker': check('Breaker.'),
  // weak cooling
  'filter-coil': check('Filter and indoor coil.', 'filters', 'coil brush and cleaner'),
  fans: check('Both fans.', 'run capacitors', 'belt'),
  'weak-charge': check('With gauges: charge.', 'gauges and thermometers', 'leak detector'),
} as const;

export type CheckId = keyof typeof CHECKS;
export const CHECK_IDS = Object.keys(CHECKS) as CheckId[];

function check(says: string, ...bring: string[]) {
  return { says, bring };
}

const HIGH: readonly CheckId[] = [
  'outdoor-coil',
  'outdoor-fan',
  'hot-day',
  'overcharge',
  'restriction',
  'high-switch',
];
const LOW: readonly CheckId[] = ['filter', 'indoor-fan', 'indoor-coil', 'cold', 'charge', 'low-switch'];
const NO_POWER: readonly CheckId[] = ['breaker', 'transformer', 'short'];
const DROPS: readonly CheckId[] = ['supply', 'connection', 'start-capacitor', 'tight'];
const EITHER: readonly CheckId[] = ['control-shows', 'outdoor-side', 'indoor-side', 'switches'];

const BY_CAUSE: Partial<Record<EventCause, readonly CheckId[]>> = {
  'high-pressure': HIGH,
  'low-pressure': LOW,
  pressure: EITHER,
  'unit-only': NO_POWER,
  undervoltage: DROPS,
};

const BY_KIND: Partial<Record<EventKind, readonly CheckId[]>> = {
  'hard-lockout': EITHER,
  'undervoltage-hold': DROPS,
  'stuck-contactor': ['welded', 'sensing'],
  'failed-start': ['contactor', 'compressor', 'compressor-breaker'],
  'weak-cooling': ['filter-coil', 'fans', 'weak-charge'],
};

/** In check order; empty where there is nothing of the unit to check. */
export const checksFor = (kind: EventKind, cause: EventCause | null): Check[] =>
  ((cause === null ? undefined : BY_CAUSE[cause]) ?? BY_KIND[kind] ?? []).map((id) => ({
    id,
    ...CHECKS[id],
  }));

/** What a check is called, for whoever writes down that it was the cause. */
export const checkSays = (id: CheckId): string => CHECKS[id].says;

/** First on site (handbook 8). */
export const FIRST_STEP =
  'Before breaking power or call, write down what the control itself shows: breaking power may clear it.';

const ALWAYS = ['locks and tags', 'voltage tester, and what proves that it works', 'clamp meter'];

/** What to have along: what is always needed, then what the checks take; each once. `filter`: its size, where it is recorded. */
export function whatToBring(checks: readonly Check[], filter: string | null): string[] {
  const named = checks.flatMap(({ bring }) => bring);
  const sized = named.map((one) => (one === 'filters' && filter !== null ? `filters, ${filter}` : one));
  return [...new Set([...ALWAYS, ...sized])];
}
