import { statement, type Queries } from './pool.ts';
import type { DeviceIds } from './record.ts';

const READ_POINTS = statement('points-of-site', 'select device, signal, id from points where site = $1');
const READ_SUBJECTS = statement('subjects-of-site', 'select kind, device, id from subjects where site = $1');

/** A site's rows by their names: `<device>/<signal>` → points.id, `<kind>/<device>` → subjects.id. */
export async function readDeviceIds(queries: Queries, site: string): Promise<DeviceIds> {
  const points = await queries.many<{ device: string; signal: string; id: number }>(READ_POINTS, [site]);
  const subjects = await queries.many<{ kind: string; device: string; id: number }>(READ_SUBJECTS, [site]);
  return {
    points: new Map(points.map(({ device, signal, id }) => [`${device}/${signal}`, id])),
    subjects: new Map(subjects.map(({ kind, device, id }) => [`${kind}/${device}`, id])),
  };
}
