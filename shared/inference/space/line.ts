import type { Instant } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';

/**
 * Something that is so or isn't, over time, as far as its edges tell: within an edge's span it is one or the other. Read
 * in two ways. *As believed*: what is unsure counts, what isn't known any more is held. *As sure*: only what must be so;
 * anything unsure or not known may be either. A record of such lines can be swept from one end of a span to the next, and
 * what holds in between is exact three-valued logic, whatever order the edges came in.
 */
export type Truth = 'yes' | 'no' | 'maybe';

export interface Line {
  /** as of the last edge that is wholly past */
  now: Level;
  /** edges that aren't, in order */
  edges: LineEdge[];
}

export interface Level {
  readonly so: boolean;
  /** false: held from before it became unknown, or never seen */
  readonly known: boolean;
  /** false: leans on a setting, or on what can't be seen */
  readonly sure: boolean;
  /** the change to it; null where it was so when first seen */
  readonly since: Span | null;
  readonly why: string;
}

export interface LineEdge {
  readonly earliest: Instant;
  readonly latest: Instant;
  readonly to: Level;
}

export const newLine = (): Line => ({
  now: { so: false, known: false, sure: true, since: null, why: '' },
  edges: [],
});

/** What it will be once every edge is past. */
export const lastLevel = (line: Line): Level => line.edges.at(-1)?.to ?? line.now;

/** Adds an edge; none is before the one before it. */
export function pushEdge(line: Line, span: Span, to: Partial<Level>): void {
  const earliest = span.earliest;
  const latest = Math.max(span.latest, line.edges.at(-1)?.latest ?? span.latest);
  const whole = {
    known: true,
    sure: true,
    so: lastLevel(line).so,
    since: { earliest, latest },
    why: '',
    ...to,
  };
  line.edges.push({ earliest, latest, to: whole });
}

/** Edges at or before `at` are past. */
export function passEdges(line: Line, at: Instant): void {
  while (line.edges.length > 0 && line.edges[0]!.latest <= at) line.now = line.edges.shift()!.to;
}

/** The next end of a span after `at`; Infinity if there is none. */
export function nextBreak({ edges }: Line, at: Instant): Instant {
  let next = Infinity;
  for (const { earliest, latest } of edges)
    for (const end of [earliest, latest]) if (end > at && end < next) next = end;
  return next;
}

export interface Reading {
  readonly believed: Truth;
  readonly sure: Truth;
}

/** From `at` to the next end of a span; the past edges have been passed. */
export function readLine({ now, edges }: Line, at: Instant): Reading {
  let reading = readLevel(now);
  for (const { earliest, to } of edges) if (earliest <= at) reading = either(reading, readLevel(to));
  return reading;
}

function readLevel({ so, known, sure }: Level): Reading {
  const believed = so ? 'yes' : 'no';
  return { believed, sure: known && (sure || !so) ? believed : 'maybe' };
}

const either = (a: Reading, b: Reading): Reading => ({
  believed: a.believed === b.believed ? a.believed : 'maybe',
  sure: a.sure === b.sure ? a.sure : 'maybe',
});

const both =
  (of: (a: Truth, b: Truth) => Truth) =>
  (a: Reading, b: Reading): Reading => ({
    believed: of(a.believed, b.believed),
    sure: of(a.sure, b.sure),
  });

export const and = both((a, b) =>
  a === 'no' || b === 'no' ? 'no' : a === 'yes' && b === 'yes' ? 'yes' : 'maybe',
);
export const or = both((a, b) =>
  a === 'yes' || b === 'yes' ? 'yes' : a === 'no' && b === 'no' ? 'no' : 'maybe',
);
const not = (truth: Truth): Truth => (truth === 'yes' ? 'no' : truth === 'no' ? 'yes' : 'maybe');
export const isNot = ({ believed, sure }: Reading): Reading => ({ believed: not(believed), sure: not(sure) });

export const NO: Reading = { believed: 'no', sure: 'no' };
