import { asciiTable } from './ascii-data.ts';
import { binaryTable, countsUp } from './binary-data.ts';
import { splitCombined, type CombinedFile } from './combined-file.ts';
import { soundStart, soundTrigger } from './file-times.ts';
import { readConfiguration, type ConfigurationFile } from './configuration-file.ts';
import { MOST_CHANNELS, type DataTable } from './data-table.ts';
import { Faults } from './file-fault.ts';
import type { AnalogChannel, DataFormat, ReadOutcome, Recording } from './recording.ts';
import { sampleTimes } from './sample-times.ts';
import { fieldsOf, linesOf, numberOf, textOf } from './text.ts';

/**
 * A recorder's files, bytes in: a `.cfg` with its `.dat`, or one `.cff`. Out comes the recording with what was wrong and
 * survived, or why nothing can be made of it. It never throws on bytes, whatever they are: that is a property test.
 */
export interface RecorderFile {
  readonly name: string;
  readonly bytes: Uint8Array;
}

/** Most bytes of all files together: half a minute of eight binary channels at 128 samples a cycle. */
export const MOST_BYTES = 4 * 1024 * 1024;
const MOST_CONFIGURATION_BYTES = 1024 * 1024;

export function readRecording(files: readonly RecorderFile[]): ReadOutcome {
  const faults = new Faults();
  const recording = attempt(files, faults);
  if (recording === null || faults.refused) return { kind: 'refused', faults: faults.list() };
  return { kind: 'recording', recording, faults: faults.list() };
}

function attempt(files: readonly RecorderFile[], faults: Faults): Recording | null {
  if (files.reduce((sum, { bytes }) => sum + bytes.length, 0) > MOST_BYTES) {
    faults.add(
      'too-large',
      `The files are larger than ${MOST_BYTES / 1048576} MB together. Export a shorter stretch.`,
    );
    return null;
  }
  const parts = partsOf(files, faults);
  if (parts === null) return null;
  if (
    parts.configuration.length > MOST_CONFIGURATION_BYTES ||
    parts.configuration.subarray(0, 512).includes(0)
  ) {
    if (!isWide(parts.configuration)) {
      faults.add(
        'not-text',
        'The configuration file isn’t text. Are the .cfg and the .dat the other way round?',
      );
      return null;
    }
  }
  const file = readConfiguration(
    linesOf(textOf(parts.configuration, 'The configuration file', faults)),
    faults,
  );
  if (file === null) return null;
  const format = isBounded(parts.data, file, faults) ? formatOf(parts, file, faults) : null;
  if (format === null) return null;
  const table = tableOf(parts.data, format, file, faults);
  if (table?.rows === 0) faults.add('no-data', 'The data file holds no sample.');
  const times = table === null || table.rows === 0 ? null : sampleTimes(table, file, faults);
  return table === null || times === null ? null : recordingOf({ ...file, format }, table, times, faults);
}

const isWide = ([first, second]: Uint8Array): boolean =>
  (first === 0xff && second === 0xfe) || (first === 0xfe && second === 0xff);

interface Parts {
  readonly configuration: Uint8Array;
  readonly data: Uint8Array;
  readonly told: string | null;
}

/** By the ends of the names; else a combined file by what it begins with. */
function partsOf(files: readonly RecorderFile[], faults: Faults): Parts | null {
  const ending = (end: string) => files.find(({ name }) => name.trim().toLowerCase().endsWith(end))?.bytes;
  const single = ending('.cff') ?? (files.length === 1 ? files[0]!.bytes : undefined);
  const combined = single && splitCombined(single);
  const configuration = combined?.configuration ?? ending('.cfg');
  const data = combined?.data ?? ending('.dat');
  if (configuration === undefined || configuration.length === 0) {
    faults.add(
      'no-configuration',
      'The configuration file (.cfg) is missing or empty: choose it together with the .dat, or choose the .cff.',
    );
    return null;
  }
  if (data === undefined || data.length === 0) {
    faults.add('no-data', 'The data file (.dat) is missing or empty: choose it together with the .cfg.');
    return null;
  }
  if (combined) noteLength(combined, data, faults);
  return { configuration, data, told: combined?.dataFormat ?? null };
}

function noteLength({ dataBytes }: CombinedFile, data: Uint8Array, faults: Faults): void {
  if (dataBytes !== null && dataBytes !== data.length)
    faults.add(
      'length-differs',
      `The file announces ${dataBytes} bytes of data and has ${data.length}; those were read.`,
    );
}

function isBounded(data: Uint8Array, { analog, digital }: ConfigurationFile, faults: Faults): boolean {
  const channels = analog.length + digital.length;
  if (channels <= MOST_CHANNELS) return true;
  faults.add(
    'too-large',
    `The file has ${channels} channels in ${data.length} bytes: more than is read. Export fewer channels.`,
  );
  return false;
}

function tableOf(
  data: Uint8Array,
  format: DataFormat,
  file: ConfigurationFile,
  faults: Faults,
): DataTable | null {
  if (format === 'ASCII') return asciiTable(linesOf(textOf(data, 'The data file', faults)), file, faults);
  return binaryTable(data, format, file, faults);
}

const BINARIES = ['BINARY', 'BINARY32', 'FLOAT32'] as const;

/** What the file says holds while the data fit it: rows that count 1, 2, 3. Else what they do fit is taken, and said. */
function formatOf({ data, told }: Parts, file: ConfigurationFile, faults: Faults): DataFormat | null {
  const said =
    file.format ?? BINARIES.find((format) => format === told) ?? (told === 'ASCII' ? 'ASCII' : null);
  if (said !== null && fits(data, said, file)) return said;
  const others = (['ASCII', ...BINARIES] as const).filter((format) => fits(data, format, file));
  const [found] = others;
  if (found !== undefined) {
    if (said !== null)
      faults.add(
        'format-other',
        `The file says its data are ${said}, but they are ${found}, and so they were read.`,
      );
    return found;
  }
  if (said !== null && (said === 'ASCII' || data.length >= 8)) return said;
  faults.add(
    'layout-unknown',
    'The data fit none of the formats (ASCII, BINARY, BINARY32, FLOAT32) with the channels that the configuration file describes. Do the two files belong together?',
  );
  return null;
}

function fits(data: Uint8Array, format: DataFormat, file: ConfigurationFile): boolean {
  if (format !== 'ASCII') return countsUp(data, format, file);
  const head = String.fromCharCode(...data.subarray(0, 2000)).split(/\r\n|\n|\r/);
  const line = head.find((text) => text.trim() !== '') ?? '';
  const [number] = fieldsOf(line);
  return numberOf(number) !== null && (line.includes(',') || file.analog.length + file.digital.length === 0);
}

function recordingOf(
  file: ConfigurationFile & { readonly format: DataFormat },
  table: DataTable,
  times: Float64Array,
  faults: Faults,
): Recording {
  const start = soundStart(file.start, faults);
  const length = (times.at(-1) ?? 0) * 1e6;
  return {
    ...{ station: file.station, device: file.device, revision: file.revision, frequency: file.frequency },
    format: file.format,
    analog: file.analog.map((line, i) => scaled(line, table.analog[i]!, faults)),
    digital: table.digital,
    times,
    rates: file.rates,
    start,
    trigger: soundTrigger(file.trigger, start, length, faults),
    utcOffsetSeconds: file.utcOffsetSeconds,
  };
}

function scaled(
  line: ConfigurationFile['analog'][number],
  stored: Float64Array,
  faults: Faults,
): AnalogChannel {
  const { name, phase, measure, multiplier, offset, skewSeconds, primary, secondary, side } = line;
  const values = stored.map((value) => multiplier * value + offset);
  const missing = values.reduce((count, value) => (Number.isFinite(value) ? count : count + 1), 0);
  if (missing > 0)
    faults.add('values-missing', `Channel “${name}” lacks ${missing} of ${stored.length} values.`);
  return { name, phase, measure, multiplier, offset, skewSeconds, primary, secondary, side, values };
}
