import { afterAll, beforeAll, expect, test } from 'vitest';
import { putDigestSettings } from '../../db/digests.ts';
import { NO_NOTICES } from '../../server/notify/settings.ts';
import { takeReports } from '../../server/notify/take-reports.ts';
import { makeSetups } from '../../server/follow/setup.ts';
import { parseInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import type { Row } from '../fixtures/fold-run.ts';
import { caughtUp, commit, putDocument } from '../fixtures/follow-store.ts';
import { addPerson, reach } from '../fixtures/on-call-store.ts';
import { readPdf } from '../fixtures/pdf.ts';
import { startSmtp, type Smtp } from '../fixtures/smtp.ts';

/**
 * October at a school with one room and one unit, from contacts to the report: three runs, one lockout of two hours that
 * left the room without cooling, a day in which nobody listened. The server's clock stands in November.
 */
const at = (text: string): Instant => parseInstant(text)!;
const NOW = at('2026-11-05T12:00:00Z');
let api: ApiServer;
let smtp: Smtp;

const SCHOOL = {
  name: 'Oak Street',
  timeZone: 'America/New_York',
  gateways: [{ id: 'gateway', heartbeatSeconds: 3600 }],
  panels: [{ id: 'panel-a' }],
  spaces: [{ id: 'room-1', name: 'Room 1' }],
  units: [
    {
      id: 'unit-1',
      name: 'North',
      panel: 'panel-a',
      space: 'room-1',
      points: ['control-voltage', 'cooling-call', 'compressor-output', 'lockout-alarm'].map((signal) => ({
        signal,
        reporting: { mode: 'on-change' },
      })),
    },
  ],
};

/** From the last hour of September (New York) to the end of October, with a heartbeat each half hour. */
function october(): Row[] {
  const start = at('2026-10-01T03:00:00Z');
  const row = (signal: string, hour: number, value: number): Row => ({
    key: `unit-1/${signal}`,
    t: start + seconds(hour * 3600),
    value,
  });
  const rows: Row[] = [];
  for (let hour = 0; hour <= 31 * 24 + 2; hour += 0.5)
    rows.push({ key: 'gateway/life', t: start + seconds(hour * 3600), value: 1 });
  rows.push(row('control-voltage', 0, 26), row('cooling-call', 0, 0), row('compressor-output', 0, 0));
  rows.push(row('lockout-alarm', 0, 0));
  for (const [from, to] of [
    [10, 11],
    [40, 40.5],
    [70, 70.25],
  ] as const) {
    rows.push(row('cooling-call', from, 1), row('compressor-output', from, 1));
    rows.push(row('compressor-output', to, 0));
    if (to !== 70.25) rows.push(row('cooling-call', to, 0));
  }
  // the third stops by itself and refuses its retry: the room is without for two hours, until the call is broken
  const refused = 70.25 + 210 / 3600;
  rows.push(row('lockout-alarm', refused, 1), row('lockout-alarm', refused + 2, 0));
  rows.push(row('cooling-call', refused + 2, 0));
  return rows;
}

beforeAll(async () => {
  smtp = await startSmtp();
  const mail = { url: smtp.url, from: 'holdoff@example.org', ca: null };
  api = await startApi({ clock: () => NOW, notify: { ...NO_NOTICES, mail } });
  await putDocument(api.store.database, 'oak', SCHOOL);
  const watched = (from: string, to: string) => ({ from: at(from), to: at(to) });
  await commit(
    api.store.database,
    'oak',
    [{ gateway: 'gateway', rows: october() }],
    [
      watched('2026-10-01T03:00:00Z', '2026-10-20T04:00:00Z'),
      watched('2026-10-21T04:00:00Z', '2026-11-01T05:00:00Z'),
    ],
  );
  await caughtUp(api.store.database, 'oak');
});
afterAll(async () => {
  await smtp.stop();
  await api.stop();
});

test('the month is added up between its midnights in New York', async () => {
  const { status, body } = await api.get('/api/reports/2026-10?site=oak');
  expect(status).toBe(200);
  expect([body.from, body.to, body.isOver]).toEqual([
    '2026-10-01T04:00:00.000Z',
    '2026-11-01T04:00:00.000Z',
    true,
  ]);
  expect(body.units).toMatchObject([{ starts: 3, runSeconds: 3600 + 1800 + 900, hardLockouts: { all: 1 } }]);
  expect(body.spaces).toMatchObject([{ name: 'Room 1', lostSeconds: 7200 }]);
  // 31 days less the one in which nobody listened
  expect(body.spaces[0].availability).toBeCloseTo(1 - 2 / (30 * 24), 4);
  expect(body.known).toBeCloseTo(30 / 31, 4);
  expect(body.before.totals).toMatchObject({ starts: 0, hardLockouts: { all: 0 } });
  expect((await api.get('/api/reports/2026-09')).body.before.totals).toBeNull();
});

test('all sites together, the worst named; another month is empty', async () => {
  const { body } = await api.get('/api/reports/2026-10');
  expect(body.sites).toMatchObject([{ id: 'oak', totals: { starts: 3 } }]);
  expect(body.worst).toMatchObject([{ siteName: 'Oak Street', unit: { name: 'North' } }]);
  expect((await api.get('/api/reports/2026-08')).body.totals).toMatchObject({
    availability: null,
    starts: 0,
  });
});

test('what is no month, or no site, is refused with what to do', async () => {
  const bad = await api.get('/api/reports/2026-13');
  expect([bad.status, bad.body.faults[0].message]).toEqual([400, 'Give a month as 2026-10.']);
  expect((await api.get('/api/reports/2026-10?site=elm')).status).toBe(404);
});

test('on paper it says the same', async () => {
  const answer = await fetch(new URL('/api/reports/2026-10/report.pdf?site=oak', api.server.url));
  expect(answer.headers.get('content-type')).toBe('application/pdf');
  const { text, pages } = readPdf(Buffer.from(await answer.arrayBuffer()));
  expect(text).toContain('Oak Street, October 2026');
  expect(text).toContain(
    'Cooling was available 99.7 % of October in 1 room; 1 hard lockout, 1 more than in September.',
  );
  expect(text).toContain('Compressor starts 3 0');
  expect(pages.map(({ coloured }) => coloured)).not.toContain(true);
});

test('as tables it can be reckoned with', async () => {
  const { body, type, headers } = await api.get('/api/reports/2026-10/units.csv?site=oak');
  expect(type).toBe('text/csv');
  expect(headers.get('content-disposition')).toBe('attachment; filename="oak-2026-10-units.csv"');
  expect(String(body).split('\r\n')).toEqual([
    'month,site,unit,name,run_hours,starts,short_cycles,soft_lockouts,hard_lockouts,undervoltage_holds,failed_starts_and_stuck_contactors',
    '2026-10,oak,unit-1,North,1.75,3,0,1,1,0,0',
    '',
  ]);
});

test('whoever wants it has it by e-mail on the first, printed, once', async () => {
  const { database } = api.store;
  const ann = await addPerson(database, 'ann');
  await reach(database, ann, 'e-mail', 'ann@example.org');
  await putDigestSettings(database, ann, {
    isOn: false,
    atMinutes: 420,
    zone: 'America/New_York',
    weekday: 1,
    isMonthly: true,
  });
  // any number of servers look whose is due, the running one among them
  const means = () => ({
    database,
    setups: makeSetups(),
    now: () => NOW,
    publicUrl: 'https://holdoff.example.org/',
  });
  await Promise.all([takeReports(means()), takeReports(means())]);
  const mail = await smtp.first(({ to }) => to === 'ann@example.org');
  expect(await takeReports(means())).toBe(0);
  expect(mail.headers.get('subject')).toBe('October 2026: your sites’ month');
  expect(mail.text).toContain('report-2026-10.pdf');
  expect(smtp.mails.filter(({ to }) => to === 'ann@example.org')).toHaveLength(1);
});
