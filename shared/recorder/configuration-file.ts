import type { Faults } from './file-fault.ts';
import { analogLine, digitalLine, type AnalogLine, type DigitalLine } from './channel-lines.ts';
import { isStampLine, readStamp, utcOffset, type ReadStamp } from './local-stamp.ts';
import { DATA_FORMATS, type DataFormat, type Revision, type SampleRate } from './recording.ts';
import { fieldsOf, numberOf } from './text.ts';

/**
 * The configuration file (IEEE C37.111: station, counts, channels, frequency, rates, two times, format, time multiplier,
 * and from 2013 time codes). Real files miscount, leave lines out and put blank ones in, so each line is known by its
 * shape rather than by its number; where number and shape disagree, the shape holds and the fault is said.
 */
export interface ConfigurationFile {
  readonly station: string;
  readonly device: string;
  readonly revision: Revision;
  readonly frequency: number | null;
  readonly analog: readonly AnalogLine[];
  readonly digital: readonly DigitalLine[];
  readonly rates: readonly SampleRate[];
  readonly start: ReadStamp | null;
  readonly trigger: ReadStamp | null;
  /** null: the file doesn't say one */
  readonly format: DataFormat | null;
  /** seconds of one count of the data file's time stamps */
  readonly stampSeconds: number;
  readonly utcOffsetSeconds: number | null;
}

/** null: nothing can be made of it, and the faults say why. */
export function readConfiguration(lines: readonly string[], faults: Faults): ConfigurationFile | null {
  const filled = withoutBlanks(lines, faults);
  const [first = '', second = ''] = filled;
  const counts = channelCounts(second);
  if (counts === null) {
    faults.add(
      'no-channels',
      'The second line of the configuration file should count the channels, like “8,6A,2D”, and doesn’t. Is it a .cfg file?',
    );
    return null;
  }
  const rest = filled.slice(2);
  const dated = rest.findIndex(isStampLine);
  const before = dated < 0 ? rest : rest.slice(0, dated);
  const after = dated < 0 ? [] : rest.slice(dated);
  const revision = revisionOf(fieldsOf(first), before, faults);
  const channels = channelsOf(before, counts, faults);
  if (channels === null) return null;
  const [station = '', device = ''] = fieldsOf(first);
  const sampling = samplingOf(channels.rest, faults);
  const tail = tailOf(after, revision, faults);
  return { station, device, revision, ...channels, ...sampling, ...tail };
}

function withoutBlanks(lines: readonly string[], faults: Faults): string[] {
  const filled = lines.filter((line) => line.trim() !== '');
  const last = lines.findLastIndex((line) => line.trim() !== '');
  if (filled.length <= last)
    faults.add('blank-lines', 'The configuration file has blank lines inside; they were left out.');
  return filled;
}

interface Counts {
  readonly all: number;
  readonly analog: number;
  readonly digital: number;
}

function channelCounts(line: string): Counts | null {
  const fields = fieldsOf(line);
  const all = numberOf(fields[0]);
  const count = (letter: string): number | null => {
    const field = fields.slice(1).find((text) => text.toUpperCase().endsWith(letter));
    return numberOf(field?.slice(0, -1).trim());
  };
  const [analog, digital] = [count('A'), count('D')];
  return all === null || (analog === null && digital === null)
    ? null
    : { all, analog: analog ?? 0, digital: digital ?? 0 };
}

/** Channel lines of 1999 and after have 13 fields, of 1991 ten. */
function revisionOf(first: readonly string[], lines: readonly string[], faults: Faults): Revision {
  const year = numberOf(first.at(-1) ?? '');
  const told = first.length >= 3 ? year : 1991;
  if (told === 1991 || told === 1999 || told === 2013) return told;
  const read = lines.some((line) => fieldsOf(line).length >= 13) ? 1999 : 1991;
  faults.add(
    'revision-unknown',
    `The file says revision “${first.at(-1) ?? ''}”, which there is none of; its channel lines are those of ${read}, and so it was read.`,
  );
  return read;
}

const ANALOG_FIELDS = 9;

function channelsOf(
  lines: readonly string[],
  counts: Counts,
  faults: Faults,
): {
  readonly analog: AnalogLine[];
  readonly digital: DigitalLine[];
  readonly rest: readonly string[];
} | null {
  const analogLines = leading(lines, (fields) => fields.length >= ANALOG_FIELDS);
  const afterwards = lines.slice(analogLines.length);
  const digitalLines = leading(
    afterwards,
    ({ length }, i) => length >= 3 || (length === 2 && i < counts.digital),
  );
  const found = analogLines.length + digitalLines.length;
  if (found === 0) {
    faults.add('no-channels', 'The configuration file describes no channel.');
    return null;
  }
  const agree = analogLines.length === counts.analog && digitalLines.length === counts.digital;
  if (!agree || counts.all !== found)
    faults.add(
      'channel-count',
      `The file counts ${counts.all} channels (${counts.analog} analog, ${counts.digital} digital) and describes ${analogLines.length} analog and ${digitalLines.length} digital; those described were read.`,
    );
  return {
    analog: analogLines.map((line, i) => analogLine(line, i, faults)),
    digital: digitalLines.map((line, i) => digitalLine(line, i)),
    rest: afterwards.slice(digitalLines.length),
  };
}

function leading(
  lines: readonly string[],
  isOne: (fields: readonly string[], i: number) => boolean,
): readonly string[] {
  const end = lines.findIndex((line, i) => !isOne(fieldsOf(line), i));
  return end < 0 ? lines : lines.slice(0, end);
}

/** Frequency, how many rates, and the rates: lines with one field and lines with two. */
function samplingOf(
  lines: readonly string[],
  faults: Faults,
): Pick<ConfigurationFile, 'frequency' | 'rates'> {
  const alone = lines.filter((line) => fieldsOf(line).length === 1).map((line) => numberOf(line.trim()));
  const pairs = lines.map(fieldsOf).filter((fields) => fields.length >= 2);
  const rates = pairs
    .map(([perSecond, last]) => ({ perSecond: numberOf(perSecond) ?? 0, last: numberOf(last) ?? 0 }))
    .filter(({ perSecond }) => perSecond > 0);
  const frequency = alone.length >= 2 ? alone[0]! : null;
  const count = alone.length >= 2 ? alone[1]! : alone[0];
  const usable = frequency !== null && frequency > 0 ? frequency : null;
  if (usable === null) faults.add('frequency-missing', 'The file doesn’t say the frequency of the supply.');
  if (count !== undefined && count !== null && count !== rates.length)
    faults.add(
      'rate-count',
      `The file counts ${count} sampling rates and gives ${rates.length}; those given were used.`,
    );
  return { frequency: usable, rates: rising(rates) };
}

/** Each stretch ends after the one before; a stretch that doesn't is left out. */
function rising(rates: readonly SampleRate[]): SampleRate[] {
  const kept: SampleRate[] = [];
  for (const rate of rates) if (rate.last > (kept.at(-1)?.last ?? 0)) kept.push(rate);
  return kept.length === 0 ? rates.slice(0, 1) : kept;
}

type Tail = Pick<ConfigurationFile, 'start' | 'trigger' | 'format' | 'stampSeconds' | 'utcOffsetSeconds'>;

function tailOf(lines: readonly string[], revision: Revision, faults: Faults): Tail {
  const stamps = lines.filter(isStampLine);
  const others = lines.filter((line) => !isStampLine(line));
  const [start, trigger] = [stampOf(stamps[0], revision), stampOf(stamps[1], revision)];
  if (start?.swapped || trigger?.swapped)
    faults.add(
      'date-order',
      `The file’s dates aren’t in the order that revision ${revision} has (${revision === 1991 ? 'month first' : 'day first'}); they were read the other way round.`,
    );
  const format = formatOf(others[0]);
  if (format === null)
    faults.add(
      'format-missing',
      'The file doesn’t say the format of its data; it was told by the data themselves.',
    );
  const afterFormat = format === null ? others : others.slice(1);
  const isFine = revision === 2013 && (start?.digits ?? 0) > 6;
  return {
    start,
    trigger,
    format,
    stampSeconds: multiplierOf(afterFormat[0], revision, faults) * (isFine ? 1e-9 : 1e-6),
    utcOffsetSeconds: revision === 2013 ? offsetOf(afterFormat[1], faults) : null,
  };
}

const stampOf = (line: string | undefined, revision: Revision): ReadStamp | null =>
  line === undefined ? null : readStamp(line, revision);

function formatOf(line: string | undefined): DataFormat | null {
  const word = fieldsOf(line ?? '')[0]!.toUpperCase();
  return DATA_FORMATS.find((format) => format === word) ?? null;
}

function multiplierOf(line: string | undefined, revision: Revision, faults: Faults): number {
  const told = line === undefined ? null : numberOf(line.trim());
  if (told !== null && told > 0) return told;
  if (revision !== 1991)
    faults.add('time-multiplier', 'The file gives no multiplier for its time stamps; 1 was used.');
  return 1;
}

/** The time code of 2013: how far the clock that wrote the dates is ahead of UTC. */
function offsetOf(line: string | undefined, faults: Faults): number | null {
  const offset = utcOffset(fieldsOf(line ?? '')[0]);
  if (offset === null)
    faults.add('time-zone', 'The file doesn’t say in which time zone its clock runs: choose it.');
  return offset;
}
