/**
 * The signals (contract section 2): what a quantity is called, where it may be wired, whether it is a contact or an
 * analog value, in which measure, and the range outside which a value is kept with quality `bad`.
 * The default ranges are physical plausibility, from memory; each point may set its own.
 */
export type DeviceKind = 'unit' | 'panel' | 'space' | 'site' | 'gateway';

export interface SignalRow {
  readonly on: readonly DeviceKind[];
  readonly kind: 'contact' | 'analog' | 'life';
  /** V, A or °C; empty for a contact */
  readonly measure: '' | 'V' | 'A' | '°C';
  readonly range: readonly [low: number, high: number];
  /** the trade's words, for lanes and sentences */
  readonly name: string;
}

const contact = (name: string, ...on: DeviceKind[]): SignalRow => ({
  on,
  kind: 'contact',
  measure: '',
  range: [0, 1],
  name,
});
const analog = (
  name: string,
  measure: 'V' | 'A' | '°C',
  range: readonly [number, number],
  ...on: DeviceKind[]
): SignalRow => ({ on, kind: 'analog', measure, range, name });

export const SIGNALS = {
  'cooling-call': contact('cooling call', 'unit'),
  'compressor-output': contact('compressor output', 'unit'),
  'contactor-voltage': analog('contactor voltage', 'V', [0, 60], 'unit'),
  'control-voltage': analog('control voltage', 'V', [0, 60], 'unit'),
  'high-pressure': contact('high-pressure switch', 'unit'),
  'low-pressure': contact('low-pressure switch', 'unit'),
  'lockout-alarm': contact('alarm contact', 'unit', 'site'),
  'compressor-current': analog('compressor current', 'A', [0, 1000], 'unit'),
  'supply-air-temperature': analog('supply air', '°C', [-60, 120], 'unit'),
  'return-air-temperature': analog('return air', '°C', [-60, 120], 'unit'),
  'reversing-valve': contact('reversing valve', 'unit'),
  'fan-call': contact('fan call', 'unit'),
  'line-voltage': analog('line voltage', 'V', [0, 1000], 'panel'),
  'line-voltage-ab': analog('line voltage A–B', 'V', [0, 1000], 'panel'),
  'line-voltage-bc': analog('line voltage B–C', 'V', [0, 1000], 'panel'),
  'line-voltage-ca': analog('line voltage C–A', 'V', [0, 1000], 'panel'),
  'utility-failed': contact('utility failed', 'panel', 'site'),
  'generator-running': contact('generator running', 'panel', 'site'),
  'space-temperature': analog('space temperature', '°C', [-60, 120], 'space', 'site'),
  'outdoor-temperature': analog('outdoor temperature', '°C', [-60, 120], 'site'),
  'high-temperature': contact('high-temperature contact', 'space', 'site'),
  'low-temperature': contact('low-temperature contact', 'space', 'site'),
  'door-open': contact('door open', 'space', 'site'),
  smoke: contact('smoke contact', 'space', 'site'),
  /** shows that a gateway lived at an instant; a heartbeat or any of its messages (contract 1.1) */
  life: { on: ['gateway'], kind: 'life', measure: '', range: [0, 1], name: 'gateway life' },
} as const satisfies Record<string, SignalRow>;

export type SignalName = keyof typeof SIGNALS;

export const isSignalName = (text: string): text is SignalName => Object.hasOwn(SIGNALS, text);
export const signalRow = (signal: SignalName): SignalRow => SIGNALS[signal];
