import { SECOND, seconds, type Instant } from '../../shared/base/instant.ts';
import { foldStep, unfolded, type Folded } from '../../shared/inference/driver.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import type { UnitEdge } from '../../shared/inference/edge.ts';
import type { RecordPage } from '../../shared/inference/fold.ts';
import { contextOf } from '../../shared/inference/sources.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import { SUBJECT, type Case } from './case.ts';

export interface Concluded {
  readonly events: readonly EventDraft[];
  readonly edges: readonly UnitEdge[];
}

/** What the fold says of a whole history, once everything has come. */
export function conclude(one: Case): Concluded {
  const context = contextOf(one.history, SUBJECT, { spans: [{ from: one.from, to: one.to }] });
  const { settled, provisional } = foldStep(unitFold, context, unfolded(unitFold), one.page, {
    more: false,
    now: one.to,
  });
  return {
    events: [...settled.events.map(({ event }) => event), ...provisional.events],
    edges: [...settled.edges.map(({ edge }) => edge), ...provisional.edges],
  };
}

/** Seconds after a start at which one asks whether it has been told. */
const ASKED = [0.5, 1, 2, 3, 5, 10, 20, 30, 60, 120, 300, 600];

/**
 * How long after each start something was told that lasted: folded in steps, as rows come in. Answers seconds by event
 * id, for what was published as probable at least.
 */
export function toldAfter(one: Case): Map<string, number> {
  const told = new Map<string, number>();
  const starts = one.truths.filter(({ needed }) => needed).map(({ start }) => start);
  const times = [...new Set(starts.flatMap((start) => ASKED.map((s) => start + seconds(s))))].sort(
    (a, b) => a - b,
  );
  const final = new Set(conclude(one).events.map(({ id }) => id));
  let stored: Folded = unfolded(unitFold);
  for (const now of times.filter((t) => t < one.to)) {
    const context = contextOf(one.history, SUBJECT, { spans: [{ from: one.from, to: now }] });
    const page = pageBetween(one.page, stored.through, now);
    const {
      stored: next,
      settled,
      provisional,
    } = foldStep(unitFold, context, stored, page, { more: false, now });
    stored = next;
    for (const event of [...settled.events.map(({ event: e }) => e), ...provisional.events]) {
      if (event.certainty === 'possible' || told.has(event.id) || !final.has(event.id)) continue;
      told.set(event.id, (now - event.start.latest) / SECOND);
    }
  }
  return told;
}

function pageBetween(page: RecordPage, after: Instant, until: Instant): RecordPage {
  const t = page.t as Float64Array;
  const [from, to] = [firstAfter(t, after), firstAfter(t, until)];
  return {
    length: to - from,
    t: t.subarray(from, to),
    source: (page.source as Uint16Array).subarray(from, to),
    value: (page.value as Float64Array).subarray(from, to),
    quality: (page.quality as Uint8Array).subarray(from, to),
  };
}

function firstAfter(t: Float64Array, instant: Instant): number {
  let low = 0;
  let high = t.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (t[middle]! <= instant) low = middle + 1;
    else high = middle;
  }
  return low;
}
