import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { writeRecording, type WrittenRecording } from '../fixtures/recorder-file.ts';

/** A recorder's file on its way from the engineer's disk into the record of a panel, over HTTP, on a real database. */
let api: ApiServer;
const RECORDINGS = '/api/panels/annex/main/recordings';

beforeAll(async () => {
  api = await startApi();
  const put = await api.send('PUT', '/api/sites/annex', {
    timeZone: 'America/Chicago',
    panels: [
      {
        id: 'main',
        name: 'Main panel',
        nominalVoltage: 240,
        points: [{ signal: 'line-voltage', reporting: { mode: 'polled', seconds: 1 }, scale: 2 }],
      },
      { id: 'bare' },
    ],
  });
  expect(put.status).toBe(201);
});
afterAll(() => api.stop());

const RATE = 3840;
const SAMPLES = RATE / 2;
/** Half a second of 240 V at 60 Hz, at 70 % from 0.1 s for five cycles; written behind a 2:1 transformer. */
const dip: WrittenRecording = {
  revision: 1999,
  format: 'BINARY',
  frequency: 60,
  analog: [
    {
      name: 'Vab',
      multiplier: 0.01,
      offset: 0,
      primary: 240,
      secondary: 120,
      side: 'S',
      stored: Array.from({ length: SAMPLES }, (_, i) => {
        const share = i >= RATE / 10 && i < RATE / 10 + (5 * RATE) / 60 ? 0.7 : 1;
        return Math.round(100 * share * 120 * Math.SQRT2 * Math.sin((2 * Math.PI * 60 * i) / RATE));
      }),
    },
  ],
  digital: [],
  samples: SAMPLES,
  rates: [{ perSecond: RATE, last: SAMPLES - 1 }],
  stamps: Array.from({ length: SAMPLES }, () => null),
  multiplier: 1,
  start: '03/06/2026,14:20:00.250000',
  trigger: '03/06/2026,14:20:00.350000',
};

const filesOf = (what: WrittenRecording) =>
  writeRecording(what).map(({ name, bytes }) => ({ name, content: Buffer.from(bytes).toString('base64') }));
const files = filesOf(dip);

describe('a recorder’s file', () => {
  it('is looked into first: what is in it, what is wrong with it, how it would be read, what would come of it', async () => {
    const { status, body } = await api.send('POST', `${RECORDINGS}/preview`, { files });
    expect(status).toBe(200);
    expect(body).toMatchObject({
      revision: 1999,
      format: 'BINARY',
      samples: SAMPLES,
      rates: [RATE],
      wired: [{ signal: 'line-voltage', name: 'line voltage' }],
      fileStart: '2026-06-03T14:20:00.250',
      reading: {
        clock: 'site',
        voltages: [{ signal: 'line-voltage', channel: 0, minus: null, scale: 2 }],
      },
      // summer time in Chicago
      startAt: '2026-06-03T19:20:00.250Z',
      hindrances: [],
    });
    expect(body.faults.map(({ code }: { code: string }) => code)).toEqual(['sample-count', 'stamps-missing']);
    expect(body.triggerSeconds).toBeCloseTo(0.1, 9);
    expect(body.excursions).toHaveLength(1);
    const [sag] = body.excursions;
    expect(sag).toMatchObject({ kind: 'sag', channels: ['line-voltage'] });
    expect(sag.residualPerUnit).toBeCloseTo(0.7, 3);
    expect(sag.residualVolts).toBeCloseTo(168, 0);
    expect(Math.abs(sag.startSeconds - 0.1)).toBeLessThanOrEqual(1 / 120);
    expect(body.drawn[0].rms.length).toBeGreaterThan(55);
    expect(body.drawn[0].wave.most.length).toBeLessThanOrEqual(801);
    // nothing is stored by looking
    expect((await api.get(RECORDINGS)).body.items).toEqual([]);
  });

  it('is read by another clock where the engineer says so', async () => {
    const at = async (reading: object) =>
      (await api.send('POST', `${RECORDINGS}/preview`, { files, reading })).body.startAt;
    expect(await at({ clock: 'utc' })).toBe('2026-06-03T14:20:00.250Z');
    expect(await at({ clock: 'offset', offsetMinutes: -360 })).toBe('2026-06-03T20:20:00.250Z');
    expect(await at({ clock: 'utc', start: '2026-06-01T00:00:00.5' })).toBe('2026-06-01T00:00:00.500Z');
    // the file has no zone of its own
    expect(await at({ clock: 'file' })).toBeNull();
  });

  it('is read as it was proposed when the proposal is sent back: no channel less none is that channel', async () => {
    const first = await api.send('POST', `${RECORDINGS}/preview`, { files });
    const { voltages } = first.body.reading;
    expect(voltages).toEqual([{ signal: 'line-voltage', channel: 0, minus: null, scale: 2 }]);
    const again = await api.send('POST', `${RECORDINGS}/preview`, { files, reading: { voltages } });
    expect(again.body.reading.voltages).toEqual(voltages);
    expect(again.body.drawn).toEqual(first.body.drawn);
  });

  it('is taken in: its half-cycle values become samples of the panel, and it is kept', async () => {
    const taken = await api.send('POST', RECORDINGS, { files });
    expect(taken.status).toBe(201);
    expect(taken.body.added).toBeGreaterThan(55);
    const { items } = (await api.get(RECORDINGS)).body;
    expect(items).toHaveLength(1);
    expect(items[0]).toMatchObject({
      from: '2026-06-03T19:20:00.250Z',
      names: ['a.cfg', 'a.dat'],
      samples: SAMPLES,
      voltages: [{ signal: 'line-voltage', channel: 0, minus: null, scale: 2 }],
    });
    const file = (id: string, place: number) =>
      fetch(new URL(`${RECORDINGS}/${id}/files/${place}`, api.server.url));
    const back = await file(items[0].id, 1);
    expect(back.headers.get('content-disposition')).toBe(
      `attachment; filename="a.dat"; filename*=UTF-8''a.dat`,
    );
    expect(Buffer.from(await back.arrayBuffer()).toString('base64')).toBe(files[1]!.content);
    expect((await file(items[0].id, 2)).status).toBe(404);
    const samples = (await api.get('/api/samples?site=annex&device=main&signal=line-voltage')).body.items;
    expect(samples).toHaveLength(taken.body.added);
    // the point's own scale of 2 is applied when samples are read
    const values = samples.map(({ v }: { v: number }) => 2 * v);
    expect(Math.max(...values)).toBeCloseTo(240, 0);
    expect(Math.min(...values)).toBeCloseTo(168, 0);
  });

  it('taken in twice changes nothing', async () => {
    const again = await api.send('POST', RECORDINGS, { files });
    expect(again.status).toBe(200);
    expect(again.body.added).toBe(0);
    expect((await api.get(RECORDINGS)).body.items).toHaveLength(1);
  });

  it('isn’t taken in again by another clock: what it gave stays in the record', async () => {
    const other = await api.send('POST', RECORDINGS, { files, reading: { clock: 'utc' } });
    expect(other.status).toBe(409);
    expect(other.body.detail).toContain('stays in the record');
  });

  it.each([
    ['the two the other way round', [{ ...files[1]!, name: 'a.cfg' }, files[1]!], 'the other way round'],
    ['half of it', files.slice(0, 1), 'choose it together with the .cfg'],
    ['nothing at all', [{ name: 'a.cff', content: '' }], '.cfg) is missing or empty'],
  ])('is refused in words that say what to do: %s', async (_, sent, says) => {
    const { status, body } = await api.send('POST', `${RECORDINGS}/preview`, { files: sent });
    expect(status).toBe(422);
    expect(body.code).toBe('bad-recording');
    expect(body.faults.map(({ message }: { message: string }) => message).join(' ')).toContain(says);
  });

  it('isn’t taken in from a clock that is years ahead, nor without a time, nor to a panel without a voltage', async () => {
    const says = async (path: string, what: WrittenRecording, reading = {}) => {
      const { status, body } = await api.send('POST', path, { files: filesOf(what), reading });
      expect(status).toBe(422);
      return body.faults.map(({ message }: { message: string }) => message).join(' ');
    };
    expect(await says(RECORDINGS, { ...dip, start: '03/06/2096,14:20:00.250000' })).toContain(
      'still to come',
    );
    expect(await says(RECORDINGS, { ...dip, start: '01/01/1970,00:00:00.000000' })).toContain(
      'give the time of its first sample',
    );
    expect(await says('/api/panels/annex/bare/recordings', dip)).toContain('has no point for a line voltage');
    expect((await api.send('POST', '/api/panels/annex/none/recordings', { files })).status).toBe(404);
  });

  it('of more than 4 MB is refused with the bound', async () => {
    const content = Buffer.alloc(4 * 1024 * 1024 + 10, 48).toString('base64');
    const { status, body } = await api.send('POST', `${RECORDINGS}/preview`, {
      files: [{ name: 'a.cff', content }],
    });
    expect(status).toBe(422);
    expect(body.faults[0].message).toContain('larger than 4 MB');
    const more = 'A'.repeat(6_100_000);
    expect(
      (await api.send('POST', `${RECORDINGS}/preview`, { files: [{ name: 'a.cff', content: more }] })).status,
    ).toBe(413);
  });
});
