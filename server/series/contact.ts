import type { Queries } from '../../db/pool.ts';
import { readDrawn, readLastBefore, readSteps } from '../../db/read-samples.ts';
import { formatInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import { isGood } from '../../shared/telemetry/sample.ts';
import { signalRow } from '../../shared/telemetry/signals.ts';
import type { Point } from '../../shared/telemetry/site.ts';
import type { ContactSeries } from '../../shared/wire/series.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import { piecesOf, type Piece } from './pieces.ts';
import type { Drawn, Stretch } from './read-series.ts';

/** Exact steps of a contact; where there are more than can be drawn, crowded stretches instead of them. */
interface Step {
  readonly t: Instant;
  readonly earliest: Instant;
  /** 1 asserted, 0 not, null: nothing is known from here on */
  readonly v: 0 | 1 | null;
}

const STEPS_A_PIXEL = 4;

export async function readContact(queries: Queries, drawn: Drawn): Promise<ContactSeries> {
  const pieces = piecesOf(drawn.history, drawn.point, drawn.stretch);
  const steps: Step[] = [];
  const crowded: Stretch[] = [];
  for (const [i, piece] of pieces.entries()) {
    steps.push(...(await stepBefore(queries, drawn, piece, i > 0)));
    const found = await stepsOf(queries, drawn, piece);
    if (found) steps.push(...found);
    else crowd(await pixelsOf(queries, drawn, piece), steps, crowded);
  }
  return answer(drawn, changesOf(steps), crowded);
}

/**
 * The state that a piece begins with, from the sample before it: a step of that time for the first piece; where the wiring has
 * changed, the same sample read anew from then on.
 */
async function stepBefore(
  queries: Queries,
  { pointId }: Drawn,
  piece: Piece,
  rewired: boolean,
): Promise<Step[]> {
  const last = await readLastBefore(queries, pointId, piece.from);
  if (!last || !isGood(last.quality)) return [];
  const t = (rewired ? piece.from : last.t) + piece.by;
  return [{ t, earliest: t, v: assertedOf(piece.point, last.value >= 0.5 ? 1 : 0) }];
}

/** null: more of them than can be drawn */
async function stepsOf(queries: Queries, { pointId, width }: Drawn, piece: Piece): Promise<Step[] | null> {
  const limit = STEPS_A_PIXEL * width;
  const polled = piece.point.reporting.mode === 'polled';
  const rows = await readSteps(queries, { ...piece, pointId }, { limit: limit + 1, onlyGood: polled });
  if (rows.length > limit) return null;
  return rows.map(({ t, before, closed }) => ({
    t: t + piece.by,
    earliest: (polled ? (before ?? t) : t - seconds(piece.point.resolutionSeconds)) + piece.by,
    v: closed === null ? null : assertedOf(piece.point, closed),
  }));
}

const assertedOf = (point: Point, closed: 0 | 1): 0 | 1 =>
  closed === (point.contact === 'normally-open' ? 1 : 0) ? 1 : 0;

interface Pixel {
  readonly from: Instant;
  readonly to: Instant;
  /** null: both within the pixel */
  readonly v: 0 | 1 | null;
}

async function pixelsOf(queries: Queries, drawn: Drawn, piece: Piece): Promise<Pixel[]> {
  const { stretch, width, pointId } = drawn;
  const pixel = Math.max(1, Math.ceil((stretch.to - stretch.from) / width));
  const pixels = { origin: stretch.from - piece.by, width: pixel };
  const raw = { scale: 1, offset: 0, range: [-Infinity, Infinity] as const };
  const values = await readDrawn(queries, { ...piece, pointId }, pixels, raw);
  return values.map(({ t, least, most }) => {
    const from = t + piece.by;
    const both = least < 0.5 && most >= 0.5;
    return { from, to: from + pixel, v: both ? null : assertedOf(piece.point, most >= 0.5 ? 1 : 0) };
  });
}

function crowd(pixels: readonly Pixel[], steps: Step[], crowded: Stretch[]): void {
  for (const { from, to, v } of pixels) {
    if (v !== null) {
      steps.push({ t: from, earliest: from, v });
      continue;
    }
    const last = crowded.at(-1);
    if (last && from - last.to <= to - from) crowded[crowded.length - 1] = { ...last, to };
    else crowded.push({ from, to });
  }
}

/** Only where something changes. */
function changesOf(steps: readonly Step[]): Step[] {
  const changes: Step[] = [];
  for (const step of steps) if (changes.at(-1)?.v !== step.v) changes.push(step);
  return changes;
}

function answer(drawn: Drawn, changes: readonly Step[], crowded: readonly Stretch[]): ContactSeries {
  const { point, knownThrough } = drawn;
  const lost = changes.flatMap((step, i): Stretch[] =>
    step.v === null ? [{ from: step.t, to: changes[i + 1]?.t ?? drawn.stretch.to }] : [],
  );
  const known = changes.filter((step): step is Step & { v: 0 | 1 } => step.v !== null);
  return {
    kind: 'contact',
    device: point.device,
    signal: point.signal,
    name: signalRow(point.signal).name,
    unknown: [...drawn.unknown, ...lost].sort((a, b) => a.from - b.from).map(wireStretch),
    t: known.map(({ t }) => formatInstant(t)),
    earliest: known.map(({ earliest }) => formatInstant(earliest)),
    v: known.map(({ v }) => v),
    crowded: crowded.map(wireStretch),
    knownThrough: wireInstant(knownThrough),
  };
}

const wireStretch = ({ from, to }: Stretch) => ({
  from: formatInstant(Math.round(from)),
  to: formatInstant(Math.round(to)),
});
