import { clockShifts, gatewayAt } from '../../shared/telemetry/clock-shifts.ts';
import type { Lives } from '../../db/follow-states.ts';
import type { TakenWork } from '../../db/follow-work.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { RevisionWhy } from '../../shared/inference/revision.ts';
import type { Snapshot } from './given.ts';
import { BEGINNING } from '../../shared/inference/driver.ts';
import { corrected } from './clocks.ts';
import type { Material } from './material.ts';

/** Why a subject goes back: kept with every event that is said otherwise for it, for people to read. */

export const IN_ORDER: RevisionWhy = { kind: 'in-order' };

/** A gateway's life that has come behind what a fold had decided without it. */
export interface NewLife {
  readonly gateway: string;
  readonly t: Instant;
}

export function whyAgain(work: TakenWork, material: Material, newLife: NewLife | null): RevisionWhy {
  const { because, earliest, learnedAt } = work;
  const lifeFirst = newLife !== null && newLife.t <= (earliest ?? Infinity);
  if (lifeFirst) return late(newLife.gateway, null, newLife.t, learnedAt);
  if (because === null) return IN_ORDER;
  return 'point' in because ? lateSample(because.point, work, material) : because;
}

function lateSample(pointId: number, { earliest, learnedAt }: TakenWork, { setup }: Material): RevisionWhy {
  const key = [...setup.ids.points].find(([, id]) => id === pointId)?.[0] ?? null;
  if (key === null || earliest === null) return late(null, null, null, learnedAt);
  const t = corrected(clockShifts(setup.history, key), earliest);
  return late(gatewayAt(setup.history, key, earliest), key, t, learnedAt);
}

function late(
  gateway: string | null,
  key: string | null,
  t: Instant | null,
  learnedAt: Instant | null,
): RevisionWhy {
  const [device = null, signal = null] = key?.split('/') ?? [];
  return { kind: 'late-data', gateway, device, signal, t, learnedAt };
}

/**
 * The earliest life that has come since a fold that knew `foldedLives`, of those that lie within what it has taken; null
 * where none does. Most lie behind it, in order.
 */
export async function earliestNewLife(
  snapshot: Snapshot,
  { lives, context, sources }: Pick<Material, 'lives' | 'context' | 'sources'>,
  { foldedLives, through }: { readonly foldedLives: Lives; readonly through: Instant },
): Promise<NewLife | null> {
  let found: NewLife | null = null;
  for (const [gateway, newest] of Object.entries(lives)) {
    const before = foldedLives[gateway];
    if (before === undefined || (newest ?? -Infinity) <= (before ?? -Infinity)) continue;
    if ((before ?? -Infinity) >= through) continue;
    const source =
      sources[context.sources.findIndex(({ kind, device }) => kind === 'life' && device === gateway)]!;
    const t = await snapshot.lifeAfter(source, before ?? BEGINNING);
    if (t <= through && (!found || t < found.t)) found = { gateway, t };
  }
  return found;
}
