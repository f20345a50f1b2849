import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { readAlarms } from '../../db/read-alarms.ts';
import { statement } from '../../db/pool.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import type { Message } from '../fixtures/follow-store.ts';
import type { Row } from '../fixtures/fold-run.ts';
import { startNoticeLine, type NoticeLine } from '../fixtures/notice-line.ts';
import { addPerson, policyOf, putDefaultPolicy, reach } from '../fixtures/on-call-store.ts';

/**
 * How many messages people get for what happens to many units at once (handbook 7: one cause, one alarm; late facts), from
 * the record to the mail that an SMTP server has taken. Every message is counted.
 */
const NOW = Math.floor(Date.now() / 1000);
const at = (second: number): Instant => seconds(NOW + second);
let line: NoticeLine;
const people = new Map<string, string>();
const ANN = () => ({ name: 'ann', person: people.get('ann')! });

beforeAll(async () => {
  line = await startNoticeLine(at(-7 * 3600));
  const { database } = line;
  for (const name of ['ann', 'ben', 'manager']) {
    people.set(name, await addPerson(database, name));
    await reach(database, people.get(name)!, 'e-mail', `${name}@example.org`);
  }
  const policy = policyOf([people.get('ann')!, people.get('ben')!], [people.get('manager')!]);
  await putDefaultPolicy(database, { ...policy, night: { ...policy.night, alwaysAtOnce: true } });
});
afterAll(() => line.stop());
beforeEach(async () => {
  await line.database.run(statement('', 'delete from escalations'));
  await line.database.run(statement('', 'delete from deliveries'));
  line.smtp.mails.length = 0;
});

const ON_CHANGE = { reporting: { mode: 'on-change' } };
const POINTS = [
  { signal: 'control-voltage', ...ON_CHANGE },
  { signal: 'cooling-call', ...ON_CHANGE },
  { signal: 'compressor-output', ...ON_CHANGE },
  { signal: 'lockout-alarm', ...ON_CHANGE },
];
type Values = Partial<
  Record<'control-voltage' | 'cooling-call' | 'compressor-output' | 'lockout-alarm', number>
>;
const RUNNING: Values = {
  'control-voltage': 26,
  'cooling-call': 1,
  'compressor-output': 1,
  'lockout-alarm': 0,
};
const WAITING: Values = { ...RUNNING, 'compressor-output': 0 };
const DARK: Values = { 'control-voltage': 0, 'cooling-call': 0, 'compressor-output': 0, 'lockout-alarm': 0 };
const LOCKED: Values = { 'compressor-output': 0, 'lockout-alarm': 1 };
const RESTED: Values = { 'cooling-call': 0, 'compressor-output': 0, 'lockout-alarm': 0 };

const rowsAt = (unit: string, second: number, values: Values): Row[] =>
  Object.entries(values).map(([signal, value]) => ({ key: `${unit}/${signal}`, t: at(second), value }));
const beats = (gateway: string, from: number, to: number, every: number): Message[] =>
  Array.from({ length: Math.floor((to - from) / every) + 1 }, (_, n) => ({
    gateway,
    rows: [],
    life: at(from + n * every),
  }));

/** what each person got, by name */
async function counted(): Promise<Record<string, string[]>> {
  const got: Record<string, string[]> = {};
  const messages = await line.sent();
  expect(line.smtp.mails).toHaveLength(messages.length);
  expect(messages.every(({ state }) => state === 'accepted')).toBe(true);
  for (const { address, reason } of messages) (got[address.split('@')[0]!] ??= []).push(reason);
  return got;
}

describe('sixty gateways deliver six hours of backlog within five minutes', () => {
  const SITES = Array.from({ length: 6 }, (_, n) => `school-${n + 1}`);
  const GATEWAYS = Array.from({ length: 10 }, (_, n) => `gateway-${n + 1}`);
  const FROM = -6 * 3600;
  /** the end of each gateway's record; nothing is known behind it */
  const END = 0;
  const unitOf = (gateway: string) => gateway.replace('gateway', 'unit');
  /** hard lockouts that were over, each across the end of an hour: at which one piece of the backlog ends */
  const LOCKOUTS = [FROM + 3600 - 600, FROM + 3 * 3600 - 900, FROM + 5 * 3600 - 300];
  const STANDING = [
    ['school-2', 'gateway-1'],
    ['school-5', 'gateway-3'],
    ['school-6', 'gateway-9'],
  ] as const;
  const OUTAGE_OVER = ['school-3', 'school-4'];
  const OUTAGE_STANDS = 'school-1';

  function recordOf(site: string, gateway: string): Message[] {
    const unit = unitOf(gateway);
    const rows = [...rowsAt(unit, FROM - 600, RUNNING)];
    for (const start of LOCKOUTS) {
      rows.push(...rowsAt(unit, start, LOCKED), ...rowsAt(unit, start + 1500, RESTED));
      rows.push(...rowsAt(unit, start + 1800, RUNNING));
    }
    if (OUTAGE_OVER.includes(site)) {
      rows.push(
        ...rowsAt(unit, FROM + 2 * 3600 - 700, DARK),
        ...rowsAt(unit, FROM + 2 * 3600 + 500, WAITING),
      );
      rows.push(...rowsAt(unit, FROM + 2 * 3600 + 641, RUNNING));
    }
    if (site === OUTAGE_STANDS) rows.push(...rowsAt(unit, -1500, DARK));
    if (STANDING.some(([where, which]) => where === site && which === gateway))
      rows.push(...rowsAt(unit, -900, LOCKED));
    return [...rows.map((row) => ({ gateway, rows: [row] })), ...beats(gateway, FROM - 600, END, 240)];
  }
  const timeOf = ({ rows, life }: Message): Instant => life ?? rows[0]!.t;

  test('notices only for what still stands: three lockouts and one outage, four pages', async () => {
    for (const site of SITES)
      await line.put(site, {
        name: site,
        timeZone: 'America/Chicago',
        gateways: GATEWAYS.map((id) => ({ id, heartbeatSeconds: 300 })),
        panels: [{ id: 'panel-a' }],
        spaces: [{ id: 'wing' }],
        units: GATEWAYS.map((gateway) => ({
          id: unitOf(gateway),
          name: unitOf(gateway),
          panel: 'panel-a',
          space: 'wing',
          points: POINTS.map((point) => ({ ...point, gateway })),
        })),
      });
    // nobody listened for those six hours: silence isn't concluded from them
    const before = { from: at(FROM - 1200), to: at(FROM) };
    const records = new Map(
      SITES.map((site) => [site, GATEWAYS.map((gateway) => recordOf(site, gateway))] as const),
    );
    for (const site of SITES)
      await line.commit(
        site,
        records.get(site)!.flatMap((record) => record.filter((one) => timeOf(one) < at(FROM))),
        [before],
      );
    await line.settleAt(at(FROM + 60));
    expect(await counted()).toEqual({});

    // an hour of each gateway at a time, some gateways ahead of others, thirty seconds apart
    for (let piece = 0; piece <= 9; piece++) {
      const now = END + piece * 30;
      for (const [n, site] of SITES.entries())
        await line.commit(
          site,
          records.get(site)!.flatMap((record, g) => {
            const [from, to] = [piece - 1, piece].map((done) => at(FROM + 3600 * (done - ((n + g) % 3))));
            return record.filter((one) => timeOf(one) >= Math.max(from!, at(FROM)) && timeOf(one) < to!);
          }),
          [{ from: at(END - 1), to: at(now) }],
        );
      await line.settleAt(at(now));
      if (piece < 5) expect(await counted()).toEqual({});
    }
    const last = SITES.map((site) =>
      line.commit(
        site,
        GATEWAYS.flatMap((gateway) => [
          ...recordOf(site, gateway).filter((one) => timeOf(one) >= at(END)),
          ...beats(gateway, END + 290, END + 290, 1),
        ]),
        [{ from: at(END - 1), to: at(END + 300) }],
      ),
    );
    await Promise.all(last);
    for (const later of [300, 360, 420]) await line.settleAt(at(END + later));
    expect(await counted()).toEqual({ ann: ['page', 'page', 'page', 'page'] });
    const subjects = line.smtp.mails.map(({ headers }) => headers.get('subject')!.split(',')[0]);
    expect(subjects.toSorted()).toEqual([...STANDING.map(([site]) => site), OUTAGE_STANDS].toSorted());
    const late = await line.database.one<{ count: number }>(
      statement('', `select count(*) from alarm_changes where what = 'learned-late'`),
    );
    // 60 units, three lockouts each, and the losses of twenty: all in the journal, none told
    expect(late.count).toBeGreaterThanOrEqual(60 * 3 + 20);
  });
});

describe('a shelter of twelve units loses its power', () => {
  const UNITS = Array.from({ length: 12 }, (_, n) => `unit-${n + 1}`);
  const LOST = 2 * 3600;
  const BACK = LOST + 900;
  let told = LOST - 1200;
  /** the gateway stands on a battery: it tells what the units did, and that it lives */
  const through = async (second: number, rows: readonly Row[] = []): Promise<void> => {
    const messages = [
      ...rows.map((row) => ({ gateway: 'gateway', rows: [row] })),
      ...beats('gateway', told, second, 20),
    ];
    await line.commit('shelter', messages, [{ from: at(LOST - 1200), to: at(second) }]);
    told = second;
    await line.settleAt(at(second));
  };
  const open = async () =>
    (
      await readAlarms(line.database, {
        sites: ['shelter'],
        states: null,
        from: null,
        to: null,
        after: null,
        limit: 100,
      })
    ).map(({ alarm, root }) => ({
      id: alarm.id,
      rule: alarm.rule,
      device: alarm.subject.device,
      root,
      life: alarm.life,
    }));

  test('one page to one person, with all that it explains beneath it; the unit that stays away is paged once, after its time', async () => {
    await line.put('shelter', {
      name: 'Pine Ridge',
      timeZone: 'America/Chicago',
      gateways: [{ id: 'gateway', heartbeatSeconds: 30 }],
      panels: [{ id: 'panel-a' }],
      spaces: [{ id: 'shelter', name: 'Shelter' }],
      units: UNITS.map((id) => ({ id, name: id, panel: 'panel-a', space: 'shelter', points: POINTS })),
    });
    await through(
      LOST - 600,
      UNITS.flatMap((unit) => rowsAt(unit, LOST - 1100, RUNNING)),
    );
    await through(
      LOST + 30,
      UNITS.flatMap((unit) => rowsAt(unit, LOST, DARK)),
    );
    expect(await counted()).toEqual({});
    await through(LOST + 90);
    expect(await counted()).toEqual({ ann: ['page'] });
    const outage = (await open()).find(({ rule }) => rule === 'power-loss')!;
    const beneath = (await open()).filter(({ root }) => root === outage.id);
    expect(beneath.map(({ rule }) => rule).toSorted()).toEqual([
      'cooling-lost',
      ...UNITS.map(() => 'unit-power-loss'),
    ]);
    expect(await open()).toHaveLength(14);
    for (const unit of UNITS) expect(line.smtp.mails[0]!.text).toContain(unit);

    await line.accept('shelter', outage.id, ANN());
    await through(BACK - 1);
    expect(await counted()).toEqual({ ann: ['page'] });

    // power-up delay 120 + 0.1 × 210 s, 5 % longer at most: 148.05 s, and 60 s to prove it
    const back = UNITS.slice(0, 11);
    await through(
      BACK + 140,
      back.flatMap((unit) => rowsAt(unit, BACK, WAITING)),
    );
    expect(await counted()).toEqual({ ann: ['page', 'cleared'] });
    await through(
      BACK + 205,
      back.flatMap((unit, n) => rowsAt(unit, BACK + 141 + n / 4, RUNNING)),
    );
    expect(await counted()).toEqual({ ann: ['page', 'cleared'] });
    await through(BACK + 230);
    expect(await counted()).toEqual({ ann: ['page', 'cleared', 'page'] });
    const left = (await open()).find(({ rule }) => rule === 'unit-power-loss')!;
    expect(left).toMatchObject({ device: 'unit-12', root: null, life: { suppressed: null } });
    expect(line.smtp.mails.at(-1)!.headers.get('subject')).toContain('unit-12');
    await line.accept('shelter', left.id, ANN());
    for (const later of [300, 600, 1200]) await through(BACK + later);
    expect(await counted()).toEqual({ ann: ['page', 'cleared', 'page'] });
    const lines = await line.database.many<{ what: string }>(
      statement(
        '',
        `select what from alarm_changes where alarm_id = $1 and what like 'raised%' and state = 'B'`,
      ),
      [left.id],
    );
    expect(lines).toHaveLength(1);
  });
});
