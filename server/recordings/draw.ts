import { inSeconds, type Instant } from '../../shared/base/instant.ts';
import type { RmsValues } from '../../shared/power/rms.ts';
import { recordedRms } from '../../shared/recorder/recorded-rms.ts';
import type { Recording } from '../../shared/recorder/recording.ts';
import { voltsOf } from '../../shared/recorder/voltage-expression.ts';
import type { RecordingPreview, RecordingVoltage } from '../../shared/wire/recording-wire.ts';

/** A recording's voltages at drawn size: RMS values, and the instantaneous ones as least and most of each pixel. */
const PIXELS = 800;
const MOST_RMS = 2000;

type Drawn = RecordingPreview['drawn'][number];

export const signalRms = (
  recording: Recording,
  { channel, minus, scale }: RecordingVoltage,
  startAt: Instant,
  frequency: number,
): RmsValues => recordedRms(recording, { channel, minus, scale }, startAt, frequency);

export function drawnVoltage(recording: Recording, voltage: RecordingVoltage, frequency: number): Drawn {
  const { t, rms } = signalRms(recording, voltage, 0, frequency);
  const every = Math.max(1, Math.ceil(t.length / MOST_RMS));
  // of each few the lowest, so that no dip is drawn away
  const kept = Array.from({ length: Math.ceil(t.length / every) }, (_, i) => lowest(rms, i * every, every));
  return {
    signal: voltage.signal,
    seconds: kept.map((i) => inSeconds(t[i]!)),
    rms: kept.map((i) => round(rms[i]!)),
    wave: waveOf(recording, voltsOf(recording, voltage)),
  };
}

function lowest(rms: readonly number[], from: number, count: number): number {
  let found = from;
  for (let i = from; i < Math.min(rms.length, from + count); i++) if (rms[i]! < rms[found]!) found = i;
  return found;
}

function waveOf({ times }: Recording, values: Float64Array): Drawn['wave'] {
  const end = times.at(-1) || 1;
  const wave: Drawn['wave'] = { seconds: [], least: [], most: [] };
  for (let at = 0; at < times.length;) {
    const pixel = Math.floor((times[at]! / end) * PIXELS);
    let [least, most] = [Infinity, -Infinity];
    const first = times[at]!;
    for (; at < times.length && Math.floor((times[at]! / end) * PIXELS) === pixel; at++) {
      if (Number.isNaN(values[at]!)) continue;
      least = Math.min(least, values[at]!);
      most = Math.max(most, values[at]!);
    }
    const isThere = least <= most;
    wave.seconds.push(first);
    wave.least.push(isThere ? round(least) : null);
    wave.most.push(isThere ? round(most) : null);
  }
  return wave;
}

const round = (volts: number): number => Math.round(volts * 100) / 100;
