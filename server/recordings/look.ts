import { formatInstant, inSeconds, seconds, type Instant } from '../../shared/base/instant.ts';
import { readRecording, type RecorderFile } from '../../shared/recorder/read-recording.ts';
import { isLineVoltage, proposeVoltages, rmsAtFirst } from '../../shared/recorder/propose-voltages.ts';
import { recordedExcursions } from '../../shared/recorder/recorded-rms.ts';
import { scalesOf } from '../../shared/recorder/voltage-expression.ts';
import type { FileFault } from '../../shared/recorder/file-fault.ts';
import type { Recording } from '../../shared/recorder/recording.ts';
import { signalRow } from '../../shared/telemetry/signals.ts';
import type { Panel, Site } from '../../shared/telemetry/site.ts';
import type { RecordingAsk, RecordingPreview, RecordingVoltage } from '../../shared/wire/recording-wire.ts';
import { Refusal } from '../http/refusal.ts';
import { drawnVoltage, signalRms } from './draw.ts';
import { readingOf, startOf, type Reading } from './reading.ts';

/** A recorder's file looked into: what it holds, how it would be read, what would come of it. Nothing is stored. */
export interface Look {
  readonly recording: Recording;
  readonly faults: readonly FileFault[];
  readonly reading: Reading;
  /** of the first sample; null: not known yet */
  readonly startAt: Instant | null;
}

export function lookInto(site: Site, panel: Panel, ask: RecordingAsk): Look {
  const outcome = readRecording(ask.files.map(fileOf));
  if (outcome.kind === 'refused')
    throw new Refusal(
      'bad-recording',
      'Nothing can be made of the file.',
      outcome.faults.map(({ says }) => ({ pointer: '/files', message: says })),
    );
  const { recording, faults } = outcome;
  const proposals = proposeVoltages(recording, panel);
  const reading = readingOf(recording, ask.reading ?? {}, proposals);
  refuseWrongChannels(recording, reading.voltages);
  return { recording, faults, reading, startAt: startOf(recording, reading, site.timeZone) };
}

const fileOf = ({ name, content }: RecordingAsk['files'][number]): RecorderFile => ({
  name,
  bytes: new Uint8Array(Buffer.from(content, 'base64')),
});

function refuseWrongChannels({ analog }: Recording, voltages: readonly RecordingVoltage[]): void {
  const wrong = voltages.findIndex(
    ({ channel, minus }) => channel >= analog.length || (minus ?? 0) >= analog.length,
  );
  const twice = voltages.findIndex(({ signal }, i) =>
    voltages.some((one, k) => k < i && one.signal === signal),
  );
  if (wrong >= 0)
    throw new Refusal('bad-request', 'The file has no such channel.', [
      {
        pointer: `/reading/voltages/${wrong}`,
        message: `It has ${analog.length} analog channels, counted from 0.`,
      },
    ]);
  if (twice >= 0)
    throw new Refusal('bad-request', 'A voltage is given twice.', [
      { pointer: `/reading/voltages/${twice}`, message: 'Give each of the panel’s voltages once.' },
    ]);
}

export function previewOf(panel: Panel, look: Look, now: Instant): RecordingPreview {
  const { recording, faults, reading, startAt } = look;
  return {
    faults: [...faults],
    station: recording.station,
    device: recording.device,
    revision: recording.revision,
    format: recording.format,
    frequency: recording.frequency,
    samples: recording.times.length,
    seconds: recording.times.at(-1) ?? 0,
    rates: recording.rates.map(({ perSecond }) => perSecond),
    digital: recording.digital.length,
    channels: recording.analog.map((channel, index) => ({
      index,
      ...{ name: channel.name, phase: channel.phase, measure: channel.measure, side: channel.side },
      ...{ primary: channel.primary, secondary: channel.secondary },
      rms: finite(
        rmsAtFirst(recording, { channel: index, minus: null, scale: 1 }, frequencyOf(panel, recording)),
      ),
      scales: [...scalesOf(channel)],
    })),
    wired: wiredVoltages(panel),
    nominalVoltage: panel.nominalVoltage,
    fileStart: recording.start === null ? null : formatInstant(recording.start.micros).slice(0, -1),
    fileOffsetMinutes: recording.utcOffsetSeconds === null ? null : recording.utcOffsetSeconds / 60,
    reading: { ...reading, voltages: [...reading.voltages] },
    startAt: startAt === null ? null : formatInstant(startAt),
    triggerSeconds:
      recording.trigger && recording.start
        ? inSeconds(recording.trigger.micros - recording.start.micros)
        : null,
    drawn: reading.voltages.map((voltage) => drawnVoltage(recording, voltage, frequencyOf(panel, recording))),
    excursions: excursionsOf(panel, look),
    hindrances: hindrancesOf(panel, look, now),
  };
}

const finite = (value: number): number | null => (Number.isFinite(value) ? value : null);

/** The panel's own frequency is what its RMS values are made with; a file that says another is told of. */
export const frequencyOf = (panel: Panel, { frequency }: Recording): number => frequency ?? panel.frequency;

const wiredVoltages = (panel: Panel): RecordingPreview['wired'] =>
  panel.points.flatMap(({ signal }) =>
    isLineVoltage(signal) ? [{ signal, name: signalRow(signal).name }] : [],
  );

function excursionsOf(panel: Panel, { recording, reading, startAt }: Look): RecordingPreview['excursions'] {
  const voltages = Object.fromEntries(reading.voltages.map((voltage) => [voltage.signal, voltage]));
  const declared = panel.nominalVoltage;
  const how = { startAt: startAt ?? 0, frequency: frequencyOf(panel, recording), declared };
  return recordedExcursions(recording, voltages, how).map((found) => ({
    kind: found.kind,
    start: startAt === null ? null : formatInstant(found.start),
    startSeconds: inSeconds(found.start - how.startAt),
    seconds: found.seconds,
    residualPerUnit: found.residual,
    residualVolts: found.residual * declared,
    channels: [...found.channels],
  }));
}

/** How far ahead of the server's clock a recording may end: as telemetry (contract 1.4). */
const FUTURE = seconds(300);

export function hindrancesOf(panel: Panel, look: Look, now: Instant): string[] {
  const { recording, reading, startAt } = look;
  const wired = new Set<string>(wiredVoltages(panel).map(({ signal }) => signal));
  const end = startAt === null ? null : startAt + seconds(recording.times.at(-1) ?? 0);
  const missing = reading.voltages.filter(({ signal }) => !wired.has(signal));
  const empty = reading.voltages.filter(
    (voltage) => signalRms(recording, voltage, 0, frequencyOf(panel, recording)).t.length === 0,
  );
  return [
    ...(wired.size === 0
      ? [`${panel.name} has no point for a line voltage: add one to the site’s document.`]
      : []),
    ...(wired.size > 0 && reading.voltages.length === 0
      ? ['No channel is chosen for any of the panel’s voltages.']
      : []),
    ...missing.map(
      ({ signal }) =>
        `${panel.name} has no point ${signal}: add it to the site’s document, or choose another.`,
    ),
    ...empty.map(
      ({ signal }) => `The recording is too short or too coarse for one whole cycle of ${signal}.`,
    ),
    ...(startAt === null
      ? ['Nothing says when the recording begins: give the time of its first sample.']
      : []),
    ...(end !== null && end > now + FUTURE
      ? [
          `It would end at ${formatInstant(end)}, which is still to come: check the clock that the file is read by.`,
        ]
      : []),
  ];
}
