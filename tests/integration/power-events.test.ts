import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { formatInstant, seconds } from '../../shared/base/instant.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { START } from '../fixtures/building-run.ts';
import { readPdf } from '../fixtures/pdf.ts';
import { toldScenario } from '../fixtures/replay-building.ts';
import { storeTold } from '../fixtures/store-told.ts';

/**
 * The review of an outage over HTTP: the school's, stored as its gateways told it, but for one that hasn't delivered since
 * before the outage.
 */
let api: ApiServer;
const told = toldScenario('utility-outage', 3600);
const LOST = 'module-7';
const at = (second: number): string => formatInstant(START + seconds(second));
const stretch = `from=${at(0)}&to=${at(3600)}`;

beforeAll(async () => {
  api = await startApi({ clock: () => told.end });
  const lost = new Set(
    told.site.units.flatMap(({ points }) =>
      points.filter(({ gateway }) => gateway === LOST).map(({ device, signal }) => `${device}/${signal}`),
    ),
  );
  const rows = told.rows.filter(({ key, t }) => {
    const isOf = lost.has(key) || key === `${LOST}/life`;
    return !isOf || t < START + seconds(500);
  });
  await storeTold(api, { ...told, rows });
});
afterAll(() => api.stop());

const first = async (): Promise<string> =>
  (await api.get(`/api/power-events?${stretch}`)).body.items[0].id as string;

describe('power events over HTTP', () => {
  it('are listed, named by their first event, and answer to the id of each of their events', async () => {
    const { status, body } = await api.get(`/api/power-events?${stretch}`);
    expect(status).toBe(200);
    expect(body.items).toHaveLength(1);
    expect(body.items[0]).toMatchObject({ kind: 'outage', title: 'Outage', end: at(885.191) });
    expect(body.items[0].sites).toMatchObject([{ id: 'harrow-lane', panels: 2 }]);
    const sequence = (await api.get('/api/events?kind=restart-sequence&panel=panel-a')).body.items[0];
    const byMember = await api.get(`/api/power-events/${sequence.id}/review`);
    expect(byMember.body.id).toBe(body.items[0].id);
  });

  it('the review says how complete it is, and which gateway hasn’t delivered', async () => {
    const { body } = await api.get(`/api/power-events/${await first()}/review`);
    expect(body.completeness.says).toMatch(
      /^Known for 0 of 1 site through \d\d:\d\d; 1 gateway hasn’t delivered\.$/,
    );
    expect(body.completeness.missing).toMatchObject([{ site: 'harrow-lane', gateway: LOST }]);
    const [row] = body.rows;
    expect(row).toMatchObject({ site: 'harrow-lane', outages: 3, missing: [LOST] });
    expect(row.filters).toContain('not-known');
    // with Room 7 unheard of, nobody knows whether it started beside Room 6
    expect(row.verdict).toBe('cannot-be-told');
    expect(body.counts.map(({ filter }: { filter: string }) => filter)).toEqual([
      'cannot-be-told',
      'not-known',
    ]);
  });

  it('one site: sentences with their evidence, margins from telemetry, tables as CSV', async () => {
    const id = await first();
    const path = `/api/power-events/${id}/sites/harrow-lane/review`;
    const { body } = await api.get(path);
    expect(body.sentences[0].text).toMatch(
      /^Power went from Panel A and Panel B at \d\d:10:00 on .*three times in all/,
    );
    for (const event of body.sentences[0].evidence)
      expect((await api.get(`/api/events/${event}`)).status).toBe(200);
    const room3 = body.units.find(({ unit }: { unit: string }) => unit === 'unit-3');
    // the building’s control voltage: 26.2 V of 240 less the 0.7 V that a coil pulls down; the trip is 18 V
    expect(room3.margin.ratio).toBeCloseTo((26.2 - 0.7) / 240, 3);
    expect(Math.round(room3.margin.volts[0])).toBe(169);
    const csv = await api.get(`${path}.csv?table=restarts`);
    expect(csv.type).toBe('text/csv');
    expect(csv.body).toMatch(
      /^panel,power_back,supply,unit,name,outcome,set_by,planned_least_s,.*\r\npanel-/,
    );
    // its columns, seven of eight units (Room 7 isn’t heard of), and the end of the last line
    expect(csv.body.split('\r\n')).toHaveLength(1 + 7 + 1);
  });

  it('on paper: the sentences whole, in black alone', async () => {
    const id = await first();
    for (const path of ['review.pdf', 'sites/harrow-lane/review.pdf']) {
      const response = await fetch(new URL(`/api/power-events/${id}/${path}`, api.server.url));
      expect(response.headers.get('content-type')).toBe('application/pdf');
      const { text, pages } = readPdf(Buffer.from(await response.arrayBuffer()));
      expect(pages.every(({ coloured }) => !coloured)).toBe(true);
      expect(text).toContain('times in America/Chicago');
      if (path !== 'review.pdf') {
        expect(text).toContain('Every unit that was called, and is heard of, came back.');
        expect(text).toContain('line voltage, Panel B, V');
      } else expect(text).toContain('1 gateway hasn’t delivered.');
    }
  });

  it('what is no power event says so', async () => {
    const { status, body } = await api.get('/api/power-events/nothing/review');
    expect([status, body.code]).toEqual([404, 'not-found']);
    const other = await api.get(`/api/power-events/${await first()}/sites/elsewhere/review`);
    expect(other.status).toBe(404);
    expect((await api.get(`/api/power-events?from=${at(10)}&to=${at(0)}`)).status).toBe(400);
  });
});
