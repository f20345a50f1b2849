import { createHash } from 'node:crypto';
import { commitBatch, EMPTY_BATCH, type CommitBatch } from '../../db/commit.ts';
import {
  insertRecording,
  readRecordingById,
  type RecordingFacts,
  type RecordingRow,
} from '../../db/recordings.ts';
import { readConfigurationRevision } from '../../db/site-history.ts';
import type { Database } from '../../db/pool.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { clockShifts, type ClockShift } from '../../shared/telemetry/clock-shifts.ts';
import { GOOD } from '../../shared/telemetry/sample.ts';
import type { Panel } from '../../shared/telemetry/site.ts';
import type { RecordingAsk } from '../../shared/wire/recording-wire.ts';
import type { Setup } from '../follow/setup.ts';
import { Refusal } from '../http/refusal.ts';
import { frequencyOf, hindrancesOf, type Look } from './look.ts';
import { signalRms } from './draw.ts';

/**
 * A recorder's file taken in: its Urms(1/2) values become samples of the panel's points by the same commit as telemetry, so
 * that events come out of the panel's fold and are one with those of telemetry; the files themselves are kept. The same
 * file in the same reading changes nothing; in another reading it is refused, since what it gave can't be taken back.
 */
export interface Taking {
  readonly setup: Setup;
  readonly panel: Panel;
  readonly ask: RecordingAsk;
  readonly look: Look;
  readonly now: Instant;
  readonly by: string;
}

export async function takeRecording(
  database: Database,
  taking: Taking,
): Promise<{ readonly row: RecordingFacts; readonly added: number }> {
  const { panel, look, now } = taking;
  const [hindrance, ...more] = hindrancesOf(panel, look, now);
  if (hindrance !== undefined)
    throw new Refusal(
      'bad-recording',
      'It can’t be taken in like this.',
      [hindrance, ...more].map((message) => ({ pointer: '/reading', message })),
    );
  const row = rowOf(taking);
  const known = await readRecordingById(database, row.id);
  if (known && known.readAs !== row.readAs)
    throw new Refusal(
      'conflict',
      `This file was taken in by ${known.takenBy} with another clock or other channels, and what it gave stays in the record.`,
    );
  const added = await commitSamples(database, taking);
  await database.transaction({ name: 'keep-recording' }, (queries) => insertRecording(queries, row));
  return { row: known ?? row, added };
}

function rowOf({ setup, panel, ask, look, now, by }: Taking): RecordingRow {
  const { recording, reading, faults } = look;
  const startAt = look.startAt!;
  const contents = ask.files.map(({ content }) => Buffer.from(content, 'base64'));
  const hash = createHash('sha256').update(`${setup.id}/${panel.id}\n`);
  for (const content of contents) hash.update(`${content.length}\n`).update(content);
  return {
    id: hash.digest('hex').slice(0, 32),
    site: setup.id,
    panel: panel.id,
    takenAt: now,
    takenBy: by,
    station: recording.station.slice(0, 200),
    device: recording.device.slice(0, 200),
    names: ask.files.map(({ name }) => name),
    contents,
    from: startAt,
    to: startAt + seconds(recording.times.at(-1) ?? 0),
    readAs: JSON.stringify([startAt, reading.voltages]),
    voltages: reading.voltages,
    faults,
    samples: recording.times.length,
  };
}

/** As telemetry: compared with the configuration's revision, merged as a join, and the panel's fold is woken. */
async function commitSamples(database: Database, taking: Taking): Promise<number> {
  for (;;) {
    const revision = await readConfigurationRevision(database);
    const outcome = await commitBatch(database, { ...EMPTY_BATCH, revision, samples: samplesOf(taking) });
    if (outcome.kind === 'committed') return outcome.changed;
  }
}

function samplesOf({ setup, panel, look }: Taking): CommitBatch['samples'] {
  const { recording, reading } = look;
  const rows = reading.voltages.flatMap((voltage) => {
    const key = `${panel.id}/${voltage.signal}`;
    const point = panel.points.find(({ signal }) => signal === voltage.signal)!;
    const shifts = clockShifts(setup.history, key);
    const { t, rms } = signalRms(recording, voltage, look.startAt!, frequencyOf(panel, recording));
    const pointId = setup.ids.points.get(key)!;
    return t.map((at, i) => ({
      pointId,
      t: claimedFor(shifts, at),
      // samples are kept as a gateway would send them: the point's scale is applied when they are read
      value: (rms[i]! - point.offset) / point.scale,
    }));
  });
  rows.sort((a, b) => a.pointId - b.pointId || a.t - b.t);
  return {
    length: rows.length,
    pointId: rows.map((row) => row.pointId),
    t: rows.map((row) => row.t),
    value: rows.map((row) => row.value),
    quality: rows.map(() => GOOD),
  };
}

/** The claimed time that is read as `at`: the recorder's clock isn't the gateway's, whose offset is added to all it carries. */
const claimedFor = (shifts: readonly ClockShift[], at: Instant): Instant => {
  const shift = shifts.find(({ from, before, by }) => at - by >= from && at - by < before);
  return at - (shift?.by ?? 0);
};
