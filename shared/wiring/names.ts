import type { SignalName } from '../telemetry/signals.ts';

/**
 * What names say: the words and abbreviations under which such points usually go in English, German, French and Spanish
 * [common practice, no source]. A row is a signal and words of which all must be there; the first row that fits wins, so
 * narrower ones stand above wider ones.
 */
interface NameRow {
  readonly signal: SignalName;
  /** each a choice of words; all choices must be met */
  readonly words: readonly (readonly string[])[];
  /** what goes by these words is nearly always this */
  readonly isPlain: boolean;
}

const COOLING = ['cool', 'cooling', 'clg', 'y', 'y1', 'cc', 'kuehlung', 'kuehlen', 'froid', 'frio'];
const CALL = ['call', 'demand', 'request', 'req', 'cmd', 'anforderung', 'demande', 'demanda', 'llamada'];
const COMPRESSOR = [
  'compressor',
  'comp',
  'cmp',
  'compr',
  'kompressor',
  'verdichter',
  'compresseur',
  'compresor',
];
const OUTPUT = [
  'output',
  'out',
  'run',
  'running',
  'on',
  'status',
  'state',
  'stat',
  'contactor',
  'schuetz',
  'marche',
  'marcha',
];
const CURRENT = ['current', 'amps', 'amp', 'a', 'i', 'strom', 'courant', 'corriente'];
const VOLTAGE = ['voltage', 'volt', 'volts', 'v', 'vac', 'spannung', 'tension', 'voltaje'];
const TEMPERATURE = ['temperature', 'temp', 't', 'tmp', 'temperatur', 'temperatura'];
const PRESSURE = ['pressure', 'press', 'druck', 'pression', 'presion', 'sw', 'switch', 'p'];
const CONTROL = ['control', 'ctrl', 'ctl', '24v', '24vac', 'steuer', 'commande', 'r'];
const LINE = ['line', 'mains', 'supply', 'grid', 'netz', 'secteur', 'red', 'panel'];
const FAIL = ['fail', 'failed', 'failure', 'lost', 'out', 'ausfall', 'panne', 'fallo'];

const row = (signal: SignalName, isPlain: boolean, ...words: readonly (readonly string[])[]): NameRow => ({
  ...{ signal, isPlain, words },
});

const NAMES: readonly NameRow[] = [
  row('line-voltage-ab', true, [...LINE, ...VOLTAGE], ['ab', 'l1l2', 'l12', 'u12']),
  row('line-voltage-bc', true, [...LINE, ...VOLTAGE], ['bc', 'l2l3', 'l23', 'u23']),
  row('line-voltage-ca', true, [...LINE, ...VOLTAGE], ['ca', 'l3l1', 'l31', 'u31']),
  row('contactor-voltage', true, ['contactor', 'coil', 'schuetz', 'spule', 'bobine', 'bobina'], VOLTAGE),
  row('control-voltage', true, CONTROL, VOLTAGE),
  row('control-voltage', true, ['24v', '24vac', 'rc']),
  row('line-voltage', true, LINE, VOLTAGE),
  row('compressor-current', true, COMPRESSOR, CURRENT),
  row('high-pressure', true, ['hps', 'hpc', 'hp', 'highpressure', 'hochdruck', 'hd']),
  row('high-pressure', true, ['high', 'hi', 'haute', 'alta'], PRESSURE),
  row('low-pressure', true, ['lps', 'lpc', 'lp', 'lowpressure', 'niederdruck', 'nd']),
  row('low-pressure', true, ['low', 'lo', 'basse', 'baja'], PRESSURE),
  row('lockout-alarm', true, ['lockout', 'alarm', 'alm', 'fault', 'stoerung', 'alarme', 'alarma', 'defaut']),
  row('utility-failed', true, ['utility', 'mains', 'grid', 'netz', 'secteur'], FAIL),
  row('generator-running', true, ['generator', 'gen', 'genset', 'groupe', 'generador']),
  row(
    'supply-air-temperature',
    true,
    ['supply', 'sat', 'discharge', 'dat', 'zuluft', 'soufflage', 'impulsion'],
    [...TEMPERATURE, 'sat', 'dat', 'air', 'zuluft'],
  ),
  row(
    'return-air-temperature',
    true,
    ['return', 'rat', 'abluft', 'reprise', 'retorno'],
    [...TEMPERATURE, 'rat', 'air', 'abluft'],
  ),
  row('outdoor-temperature', true, [
    'outdoor',
    'outside',
    'oat',
    'oa',
    'ambient',
    'aussen',
    'exterieur',
    'exterior',
  ]),
  row('high-temperature', true, ['high', 'hi'], TEMPERATURE, [
    'alarm',
    'alm',
    'limit',
    'stat',
    'switch',
    'contact',
  ]),
  row(
    'space-temperature',
    true,
    ['room', 'space', 'zone', 'raum', 'piece', 'salle', 'sala', 'indoor'],
    TEMPERATURE,
  ),
  row('reversing-valve', true, ['reversing', 'rv', 'ob']),
  row('fan-call', true, ['fan', 'g', 'ventilator', 'luefter', 'ventilateur', 'ventilador']),
  row('door-open', true, ['door', 'tuer', 'porte', 'puerta']),
  row('smoke', true, ['smoke', 'rauch', 'fumee', 'humo']),
  row('cooling-call', true, COOLING, CALL),
  row('compressor-output', true, COMPRESSOR, OUTPUT),
  row('cooling-call', true, ['y', 'y1']),
  row('compressor-output', false, COMPRESSOR),
  row('cooling-call', false, COOLING),
  row('cooling-call', false, ['call', 'anforderung']),
  row('space-temperature', false, TEMPERATURE),
  row('contactor-voltage', false, ['contactor', 'coil']),
];

export interface NameGuess {
  readonly signal: SignalName;
  readonly isPlain: boolean;
  /** the words of the name that say so */
  readonly words: readonly string[];
}

/** Words of a name: parted by anything but letters and digits, and where small letters meet capitals. */
export const wordsOf = (name: string): string[] =>
  name
    .replace(/([a-z])([A-Z])|([0-9])(?=[A-Z][a-z])/g, '$1$3 $2')
    .normalize('NFD')
    .replace(/[\u0300-\u036f]/g, '')
    .toLowerCase()
    .split(/[^a-z0-9]+/)
    .filter((word) => word !== '');

/**
 * What a name says of a signal; null: nothing that we know. Later words count more: `plant/cooling/di/alarm` is an alarm. Words
 * that are plain count before those that may mean several things, wherever they stand.
 */
export function guessByName(name: string): NameGuess | null {
  const words = wordsOf(name);
  for (const isPlain of [true, false])
    for (let last = 1; last <= words.length; last++) {
      const found = guessIn(words.slice(-last), isPlain);
      if (found) return found;
    }
  return null;
}

function guessIn(words: readonly string[], plain: boolean): NameGuess | null {
  for (const { signal, words: asked, isPlain } of NAMES) {
    if (isPlain !== plain) continue;
    const met = asked.map((choice) => words.find((word) => choice.includes(word)));
    if (met.every((word): word is string => word !== undefined) && new Set(met).size === met.length)
      return { signal, isPlain, words: met };
  }
  return null;
}
