import { clockShifts } from '../../shared/telemetry/clock-shifts.ts';
import { readNewest, readNewSince } from '../../db/read-samples.ts';
import type { Database } from '../../db/pool.ts';
import { formatInstant, type Instant } from '../../shared/base/instant.ts';
import { isGood } from '../../shared/telemetry/sample.ts';
import { siteAt, type Point } from '../../shared/telemetry/site.ts';
import { corrected } from '../follow/clocks.ts';
import type { Setup } from '../follow/setup.ts';
import { allPoints } from '../series/pieces.ts';
import { shownValue } from '../series/shown-value.ts';
import type { PointSamples } from './room-changes.ts';

/** The newest samples of one site's points, for those who look at it: each is given once, in time order. */
export interface NewSamples {
  read(setup: Setup, now: Instant): Promise<PointSamples[]>;
}

const A_LOOK = 200;

export function newSamples(database: Database): NewSamples {
  let after: Map<number, Instant> | null = null;
  let revision = -1;
  let reading: Promise<unknown> = Promise.resolve();

  async function look(setup: Setup, now: Instant): Promise<PointSamples[]> {
    const points = pointsById(setup, now);
    if (after === null || revision !== setup.revision) {
      const newest = await readNewest(database, [...points.keys()]);
      const known = new Map(newest.map(({ pointId, t }) => [pointId, t]));
      after = new Map([...points.keys()].map((id) => [id, known.get(id) ?? -Infinity]));
      revision = setup.revision;
      return [];
    }
    const asked = [...after].map(([pointId, since]) => ({ pointId, after: since }));
    const rows = await readNewSince(database, asked, A_LOOK);
    for (const { pointId, t } of rows) after.set(pointId, Math.max(t, after.get(pointId) ?? -Infinity));
    return [...points].flatMap(([id, point]) => {
      const found = rows.filter((row) => row.pointId === id);
      return found.length === 0 ? [] : [samplesOf(setup, point, found)];
    });
  }

  return {
    // one after the other, so that no sample is given twice
    read: (setup, now) => {
      const next = reading.then(() => look(setup, now));
      reading = next.catch(() => {});
      return next;
    },
  };
}

function pointsById(setup: Setup, now: Instant): Map<number, Point> {
  const site = siteAt(setup.history, now);
  const found = new Map<number, Point>();
  for (const point of site ? allPoints(site) : []) {
    const id = setup.ids.points.get(`${point.device}/${point.signal}`);
    if (id !== undefined) found.set(id, point);
  }
  return found;
}

function samplesOf(
  setup: Setup,
  point: Point,
  rows: readonly { readonly t: Instant; readonly value: number; readonly quality: number }[],
): PointSamples {
  const shifts = clockShifts(setup.history, `${point.device}/${point.signal}`);
  const good = rows.filter(({ quality }) => isGood(quality)).sort((a, b) => a.t - b.t);
  return {
    device: point.device,
    signal: point.signal,
    t: good.map(({ t }) => formatInstant(corrected(shifts, t))),
    v: good.map(({ value }) => shownValue(point, value)),
    incomplete: rows.length >= A_LOOK || good.length < rows.length,
  };
}
