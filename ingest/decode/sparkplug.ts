import { MILLISECOND, SECOND } from '../../shared/base/instant.ts';
import { metricKey } from '../../shared/telemetry/sparkplug-name.ts';
import type { Catalogue, KnownEdge } from '../catalogue.ts';
import type { Said, SaidMetric } from '../sparkplug/said.ts';
import type { Intake } from './intake.ts';

/**
 * A message of an edge node (contract 1.2), as its session has made it out: the metrics that points name are taken, each by
 * itself. The others are nobody's: a birth lists everything that an edge node has.
 */
export function takeSparkplug(intake: Intake, { edges }: Catalogue, said: Said): void {
  const where = `${said.group}/${said.edge}`;
  const known = edges.get(where);
  if (said.refused) intake.refuse(said.refused, where, undefined);
  if (!known) return intake.passOver(said.metrics.length);
  takeLife(intake, known, said.livedAt);
  for (const metric of said.metrics) takeMetric(intake, known, metric, where);
  for (const { device, t } of said.stale) {
    for (const [key, points] of known.metrics)
      if (device === null || key.startsWith(`${device}/`))
        for (const point of points) intake.takeStale(point, t);
  }
}

function takeLife(intake: Intake, { gateways }: KnownEdge, sentAt: number | null): void {
  if (sentAt === null) return;
  // at most one a second is kept, as of all that isn't a heartbeat
  const t = Math.floor((sentAt * MILLISECOND) / SECOND) * SECOND;
  for (const gateway of gateways) intake.takeHeartbeat({ gateway, t }, null);
}

function takeMetric(intake: Intake, known: KnownEdge, metric: SaidMetric, where: string): void {
  const { device, name, refusal } = metric;
  if (name === null) return intake.refuse(refusal ?? 'sparkplug-metric', `${where}/${device}`, undefined);
  const points = known.metrics.get(metricKey(device, name)) ?? [];
  if (points.length === 0) return intake.passOver(1);
  if (refusal) return intake.refuse(refusal, `${where}/${metricKey(device, name)}`, undefined);
  for (const point of points)
    for (const t of timesOf(metric)) intake.take(point, { t, v: metric.value, q: metric.quality }, null);
}

/** Without a time of its own, or its message's, it is timed at arrival. */
const timesOf = ({ t, alsoAt }: SaidMetric): (number | undefined)[] =>
  t === null ? [undefined] : alsoAt === null ? [t] : [t, alsoAt];
