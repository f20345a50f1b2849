import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { statement } from '../../db/pool.ts';
import { formatInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { FOLDS } from '../../shared/inference/folds.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import type { SiteHistory } from '../../shared/telemetry/site.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import type { Script } from '../fixtures/control-run.ts';
import type { Row } from '../fixtures/fold-run.ts';
import { foldSiteOnce } from '../fixtures/fold-site.ts';
import { followByHand } from '../fixtures/follow-by-hand.ts';
import {
  commit,
  inOrder,
  lifeOf,
  lookAt,
  merged,
  putDocument,
  standingEvents,
  type Message,
} from '../fixtures/follow-store.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { CALL, HIGH, OUTPUT, recordOf, VOLTAGE } from '../fixtures/unit-record.ts';

const POINTS = [CALL, OUTPUT, HIGH, VOLTAGE];
const document = (offDelay: number, more: object = {}) => ({
  timeZone: 'UTC',
  panels: [{ id: 'panel-a' }],
  units: [{ id: 'unit-1', panel: 'panel-a', protection: { offDelay }, points: POINTS, ...more }],
});

const BASE = 1_700_000_000;
const t = (second: number): Instant => seconds(BASE + second);

/** Calls of 300 s every 600 s; the fourth begins 100 s after the third has ended. */
const SCRIPT: Script = Array.from({ length: 8 }, (_, i): Script => {
  const from = 100 + i * 600 - (i === 3 ? 200 : 0);
  return [
    [from, { call: true }],
    [from + 300, { call: false }],
  ];
}).flat();

const messages = (rows: readonly Row[]): Message[] => {
  const at = new Map<Instant, Row[]>();
  for (const row of rows) at.set(row.t, [...(at.get(row.t) ?? []), row]);
  return [...at.values()].map((same) => ({ gateway: 'gateway', rows: same }));
};
const RECORD = messages(
  recordOf(SCRIPT, { offDelay: 30 }, 600).map((row) => ({ ...row, t: row.t + seconds(BASE) })),
);

let store: FreshDatabase;
beforeEach(async () => {
  store = await freshDatabase();
});
afterEach(() => store.drop());

const historyOf = (...versions: readonly (readonly [from: Instant, document: unknown])[]): SiteHistory =>
  versions.map(([from, one]) => {
    const parsed = parseConfiguration('rowan', one);
    if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
    return { from, site: parsed.site };
  });

const once = (history: SiteHistory, sent: readonly Message[]) => {
  const rows = merged(sent.flatMap((message) => [...message.rows, ...lifeOf(message)]));
  return inOrder(foldSiteOnce({ history, rows, watch: { spans: [] } }));
};

const KEPT = statement(
  '',
  `select id, revision, withdrawn_at, replaced_by, replaces from events where site = 'rowan'`,
);
interface KeptRow {
  id: string;
  revision: number;
  withdrawn_at: Instant | null;
  replaced_by: string | null;
  replaces: string[];
}

describe('configuration as history', () => {
  test('a delay that counts from an instant touches no event before it', async () => {
    const { database } = store;
    await putDocument(database, 'rowan', document(30));
    const hand = followByHand(database, FOLDS);
    await commit(database, 'rowan', RECORD);
    await hand.settle();
    const before = await standingEvents(database, 'rowan');
    expect(before.some(({ kind }) => kind === 'short-cycle')).toBe(false);

    // the third call ends 1600 s on, the fourth begins 100 s later: kept at 30 s, too soon at 210 s
    const from = t(1500);
    await putDocument(database, 'rowan', document(210), from);
    await hand.settle();
    const after = await standingEvents(database, 'rowan');
    expect(after).toEqual(once(historyOf([-Infinity, document(30)], [from, document(210)]), RECORD));
    expect(after.filter(({ kind }) => kind === 'short-cycle')).toHaveLength(1);
    const earlier = (events: readonly EventDraft[]) =>
      events.filter(({ end }) => end !== null && end.latest < from);
    expect(earlier(after)).toEqual(earlier(before));
    const kept = new Map((await database.many<KeptRow>(KEPT)).map((row) => [row.id, row.revision]));
    for (const { id } of earlier(after)) expect(kept.get(id)).toBe(1);
  });

  test('a record that was wrong is mended from the beginning', async () => {
    const { database } = store;
    await putDocument(database, 'rowan', document(30));
    const hand = followByHand(database, FOLDS);
    await commit(database, 'rowan', RECORD);
    await hand.settle();
    await putDocument(database, 'rowan', document(210), -Infinity);
    await hand.settle();
    expect(await standingEvents(database, 'rowan')).toEqual(
      once(historyOf([-Infinity, document(210)]), RECORD),
    );
  });
});

describe('a generation', () => {
  test('grows while what stood stands, is counted as pending all the way, and takes its place at once', async () => {
    const { database } = store;
    await putDocument(database, 'rowan', document(30));
    await followByHand(database, FOLDS).settle();
    await commit(database, 'rowan', RECORD);
    await followByHand(database, FOLDS).settle();
    const before = await standingEvents(database, 'rowan');
    await putDocument(database, 'rowan', document(210), -Infinity);

    const slow = followByHand(database, FOLDS, 300);
    let steps = 0;
    for (; steps < 500; steps++) {
      const outcome = await slow.step('unit/unit-1', steps % 2 === 0 ? 'live' : 'refold');
      const look = await lookAt(database, 'rowan');
      if (outcome.kind !== 'more') break;
      expect(look.pending).toBeGreaterThan(0);
      expect(unitEvents(look.events)).toEqual(unitEvents(before));
    }
    expect(steps).toBeGreaterThan(10);
    await slow.settle();
    expect(await standingEvents(database, 'rowan')).toEqual(
      once(historyOf([-Infinity, document(210)]), RECORD),
    );
  });

  test('lets live work through, and goes back for what comes late', async () => {
    const { database } = store;
    await putDocument(database, 'rowan', document(30));
    const [early, late] = [RECORD.slice(0, 500), RECORD.slice(500)];
    const [missing, ...rest] = early;
    await commit(database, 'rowan', rest);
    await followByHand(database, FOLDS).settle();
    await putDocument(database, 'rowan', document(210), -Infinity);
    const slow = followByHand(database, FOLDS, 300);
    expect((await slow.step('unit/unit-1')).kind).toBe('more');
    const before = await standingEvents(database, 'rowan', 'unit/unit-1');
    await commit(database, 'rowan', late);
    for (
      let steps = 0;
      (await standingEvents(database, 'rowan', 'unit/unit-1')).length <= before.length;
      steps++
    ) {
      const outcome = await slow.step('unit/unit-1', steps % 2 === 0 ? 'live' : 'refold');
      expect(outcome.kind).toBe('more'); // the generation isn't done yet
    }
    await commit(database, 'rowan', [missing!]);
    await slow.settle();
    expect(await standingEvents(database, 'rowan')).toEqual(
      once(historyOf([-Infinity, document(210)]), RECORD),
    );
  });
});

const unitEvents = (events: readonly EventDraft[]) => events.filter(({ unit }) => unit !== null);

describe('late data', () => {
  test('amend an event under its id, or replace it where its start has moved', async () => {
    const { database } = store;
    await putDocument(database, 'rowan', document(30));
    const hand = followByHand(database, FOLDS);
    const start: Row = { key: 'unit-1/compressor-output', t: t(100), value: 1 };
    const earlier: Row = { ...start, t: t(90) };
    const first: Row[] = [
      { ...start, t: t(0), value: 0 },
      start,
      { ...start, t: t(400), value: 0 },
      { ...start, t: t(900), value: 0 },
    ];
    await commit(database, 'rowan', messages(first));
    await hand.settle();
    const [run] = (await standingEvents(database, 'rowan')).filter(({ kind }) => kind === 'compressor-run');

    await commit(database, 'rowan', messages([{ ...start, t: t(350), value: 0 }]));
    await hand.settle();
    const amended = (await database.many<KeptRow>(KEPT)).find(({ id }) => id === run!.id)!;
    expect([amended.revision, amended.withdrawn_at]).toEqual([2, null]);

    await commit(database, 'rowan', messages([earlier]));
    await hand.settle();
    const rows = await database.many<KeptRow>(KEPT);
    const gone = rows.find(({ id }) => id === run!.id)!;
    const successor = rows.find(({ id }) => id === gone.replaced_by)!;
    expect(gone.withdrawn_at).not.toBeNull();
    expect(successor.replaces).toEqual([run!.id]);
    const standing = (await standingEvents(database, 'rowan')).find(({ id }) => id === successor.id)!;
    expect(formatInstant(standing.start.latest)).toBe(formatInstant(t(90) + seconds(0.1)));
  });

  test('the same again changes nothing and wakes nobody', async () => {
    const { database } = store;
    await putDocument(database, 'rowan', document(30));
    const hand = followByHand(database, FOLDS);
    await commit(database, 'rowan', RECORD);
    await hand.settle();
    await commit(database, 'rowan', RECORD);
    expect(await hand.due()).toEqual([]);
  });
});

describe('a fold that fails', () => {
  const failing = {
    ...FOLDS,
    unit: {
      ...unitFold,
      take: (...[state, context, ...rest]: Parameters<typeof unitFold.take>) => {
        if (context.subject.device === 'unit-2') throw new RangeError('no such rule');
        unitFold.take(state, context, ...rest);
      },
    },
  };
  const two = {
    ...document(30),
    units: [document(30).units[0], { id: 'unit-2', panel: 'panel-a', points: POINTS }],
  };
  const both = RECORD.map(({ gateway, rows }) => ({
    gateway,
    rows: rows.flatMap((row) => [row, { ...row, key: row.key.replace('unit-1', 'unit-2') }]),
  }));
  const STOPPED = statement(
    '',
    'select s.device, st.stopped from subject_states st join subjects s on s.id = st.subject_id where st.stopped is not null',
  );

  test('stops its own subject with the reason, and lets the others go on', async () => {
    const { database } = store;
    await putDocument(database, 'rowan', two);
    await commit(database, 'rowan', both);
    const hand = followByHand(database, failing);
    await hand.settle();
    expect(await database.many(STOPPED)).toEqual([{ device: 'unit-2', stopped: 'RangeError: no such rule' }]);
    const units = new Set((await standingEvents(database, 'rowan')).map(({ unit }) => unit));
    expect(units).toContain('unit-1');
    expect(units).not.toContain('unit-2');
    await commit(database, 'rowan', [
      { gateway: 'gateway', rows: [{ key: 'unit-2/cooling-call', t: t(-150), value: 1 }] },
    ]);
    await hand.settle(); // nothing is lost, and nothing is tried in vain
  });

  test('goes on from what it missed when the configuration changes', async () => {
    const { database } = store;
    await putDocument(database, 'rowan', two);
    await commit(database, 'rowan', both);
    await followByHand(database, failing).settle();
    await putDocument(database, 'rowan', { ...two, name: 'mended' }, -Infinity);
    await followByHand(database, FOLDS).settle();
    expect(await database.many(STOPPED)).toEqual([]);
    expect(await standingEvents(database, 'rowan')).toEqual(
      once(historyOf([-Infinity, { ...two, name: 'mended' }]), both),
    );
  });
});

test('a panel is done when its units’ gateways live on, though no unit has more to tell', async () => {
  const { database } = store;
  const wired = (gateway: string) => [CALL, OUTPUT].map((point) => ({ ...point, gateway }));
  const pair = {
    timeZone: 'UTC',
    gateways: ['east', 'west'].map((id) => ({ id, clockUncertainty: 0.1 })),
    panels: [{ id: 'panel-a', minimumStartSeparation: 2 }],
    units: [
      { id: 'unit-1', panel: 'panel-a', points: wired('east') },
      { id: 'unit-2', panel: 'panel-a', points: wired('west') },
    ],
  };
  const told = (gateway: string, unit: string, second: number, value: number): Message => ({
    gateway,
    rows: ['cooling-call', 'compressor-output'].map((signal) => ({
      key: `${unit}/${signal}`,
      t: t(second),
      value,
    })),
  });
  const sent = [
    told('east', 'unit-1', 0, 0),
    told('west', 'unit-2', 0, 0),
    told('east', 'unit-1', 1000, 1),
    told('west', 'unit-2', 1001, 1),
  ];
  // the first lets the units decide what is theirs, the second the panel
  const lives = [1001.5, 1200].flatMap((second) =>
    ['east', 'west'].map((gateway): Message => ({ gateway, rows: [], life: t(second) })),
  );
  await putDocument(database, 'rowan', pair);
  const hand = followByHand(database, FOLDS);
  await commit(database, 'rowan', sent);
  await hand.settle();
  const [open] = (await standingEvents(database, 'rowan')).filter(
    ({ kind }) => kind === 'simultaneous-start',
  );
  for (const life of lives) {
    await commit(database, 'rowan', [life]);
    await hand.settle();
  }
  const events = await standingEvents(database, 'rowan');
  const [together] = events.filter(({ kind }) => kind === 'simultaneous-start');
  expect(together!.certainty).toBe('certain');
  expect(together).not.toEqual(open); // it waited for what it now knows
  expect(events).toEqual(once(historyOf([-Infinity, pair]), [...sent, ...lives]));
});
