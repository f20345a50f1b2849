import Type, { type Static } from 'typebox';
import { LINE_VOLTAGES } from '../recorder/propose-voltages.ts';
import { choice, Count, IsoInstant, nullable } from './schema.ts';

/** A recorder's file on its way in: what is sent, what was found in it, and what was taken. */
const closed = { additionalProperties: false };
const Voltage = choice(...LINE_VOLTAGES);

/** Base64 of 4 MB, and a little for names. */
const MOST_BASE64 = 5_600_000;
export const RECORDING_BODY_BYTES = 6_000_000;

const RecordingFile = Type.Object(
  {
    name: Type.String({ minLength: 1, maxLength: 200 }),
    content: Type.String({
      maxLength: MOST_BASE64,
      pattern: '^[A-Za-z0-9+/]*={0,2}$',
      description: 'base64; all files together at most 4 MB',
    }),
  },
  closed,
);

export const RecordingVoltage = Type.Object(
  {
    signal: Voltage,
    channel: Type.Integer({ minimum: 0, maximum: 1999, description: 'which channel, from 0' }),
    /** one type of two: of a choice between two, a null that is sent would be taken for the number 0 */
    minus: Type.Unsafe<number | null>({ type: ['integer', 'null'], minimum: 0, maximum: 1999 }),
    scale: Type.Number({ minimum: -1e6, maximum: 1e6, description: 'V for each of the channel’s measure' }),
  },
  closed,
);
export type RecordingVoltage = Static<typeof RecordingVoltage>;

/** How the file is to be read: its clock, and which channels are which voltages. */
export const RecordingReading = Type.Object(
  {
    clock: Type.Optional(choice('site', 'utc', 'file', 'offset')),
    offsetMinutes: Type.Optional(Type.Integer({ minimum: -840, maximum: 840, description: 'ahead of UTC' })),
    start: Type.Optional(
      Type.String({
        pattern: '^\\d{4}-\\d{2}-\\d{2}T\\d{2}:\\d{2}:\\d{2}(\\.\\d{1,6})?$',
        description: 'by that clock; left out: what the file says',
      }),
    ),
    voltages: Type.Optional(Type.Array(RecordingVoltage, { maxItems: 4 })),
  },
  closed,
);
export type RecordingReading = Static<typeof RecordingReading>;

export const RecordingAsk = Type.Object(
  {
    files: Type.Array(RecordingFile, { minItems: 1, maxItems: 4 }),
    reading: Type.Optional(RecordingReading),
  },
  closed,
);
export type RecordingAsk = Static<typeof RecordingAsk>;

const FileFault = Type.Object({ code: Type.String(), says: Type.String() });

const Excursion = Type.Object({
  kind: choice('sag', 'swell', 'interruption'),
  start: nullable(IsoInstant),
  startSeconds: Type.Number({ description: 'from the first sample' }),
  seconds: nullable(Type.Number()),
  residualPerUnit: Type.Number(),
  residualVolts: Type.Number(),
  channels: Type.Array(Type.String()),
});

const DrawnVoltage = Type.Object({
  signal: Voltage,
  seconds: Type.Array(Type.Number(), { description: 'from the first sample' }),
  rms: Type.Array(Type.Number(), { description: 'V' }),
  wave: Type.Object({
    seconds: Type.Array(Type.Number()),
    least: Type.Array(nullable(Type.Number())),
    most: Type.Array(nullable(Type.Number())),
  }),
});

const Channel = Type.Object({
  index: Count,
  name: Type.String(),
  phase: Type.String(),
  measure: Type.String(),
  primary: Type.Number(),
  secondary: Type.Number(),
  side: choice('primary', 'secondary'),
  rms: nullable(Type.Number({ description: 'over the first cycles, in the channel’s measure' })),
  scales: Type.Array(Type.Object({ scale: Type.Number(), how: Type.String() })),
});

export const RecordingPreview = Type.Object({
  faults: Type.Array(FileFault),
  station: Type.String(),
  device: Type.String(),
  revision: Type.Integer(),
  format: Type.String(),
  frequency: nullable(Type.Number()),
  samples: Count,
  seconds: Type.Number(),
  rates: Type.Array(Type.Number(), { description: 'samples a second; empty: time stamps alone tell' }),
  digital: Count,
  channels: Type.Array(Channel),
  wired: Type.Array(Type.Object({ signal: Voltage, name: Type.String() }), {
    description: 'voltages that the panel has points for',
  }),
  nominalVoltage: Type.Number(),
  fileStart: nullable(Type.String({ description: 'by the file’s own clock, without a zone' })),
  fileOffsetMinutes: nullable(Type.Number()),
  reading: Type.Object({
    clock: choice('site', 'utc', 'file', 'offset'),
    offsetMinutes: Type.Optional(Type.Number()),
    start: nullable(Type.String()),
    voltages: Type.Array(RecordingVoltage),
  }),
  startAt: nullable(IsoInstant),
  triggerSeconds: nullable(Type.Number()),
  drawn: Type.Array(DrawnVoltage),
  excursions: Type.Array(Excursion),
  hindrances: Type.Array(Type.String(), { description: 'why it can’t be taken in like this; empty: it can' }),
});
export type RecordingPreview = Static<typeof RecordingPreview>;

export const RecordingTaken = Type.Object({
  id: Type.String(),
  takenAt: IsoInstant,
  takenBy: Type.String(),
  station: Type.String(),
  device: Type.String(),
  names: Type.Array(Type.String()),
  from: IsoInstant,
  to: IsoInstant,
  voltages: Type.Array(RecordingVoltage),
  faults: Type.Array(FileFault),
  samples: Count,
});
export type RecordingTaken = Static<typeof RecordingTaken>;

export const RecordingSaved = Type.Object({
  recording: RecordingTaken,
  /** samples that weren’t there yet; 0 where the same was taken in before */
  added: Count,
});
export type RecordingSaved = Static<typeof RecordingSaved>;

export const RecordingList = Type.Object({ items: Type.Array(RecordingTaken), cursor: Type.Null() });
