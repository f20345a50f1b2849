import type { Instant } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import { edgeOf, type UnitEdge } from '../edge.ts';
import { BEGINNING } from '../horizon.ts';

/**
 * What a panel or a space knows of a member unit, put together from its edges alone. Each of run, power and call is on,
 * off or not known, since a span; a state that was never seen, or was lost to silence, is not known.
 */
export interface UnitPicture {
  readonly run: Known;
  readonly power: Known;
  readonly call: Known;
  /** hard lockout */
  latched: Mark | null;
  /** soft lockout or undervoltage hold, and when its wait is over */
  held: (Mark & { readonly why: string; readonly wait: readonly [number, number] | null }) | null;
  /** output on, no current */
  failed: Mark | null;
  /** undervoltage holds in a row, each within 10 s of a start */
  holdsInRow: number;
}

export interface Known {
  /** null: not known */
  on: boolean | null;
  /** the change to this state; null where it was there when first seen */
  since: Span | null;
  /** it has been so at least since; null where it isn't known */
  from: Instant | null;
  /** existence of that change is certain */
  certain: boolean;
  /** the last stretches in which it wasn't known, newest last; `to` null while it lasts */
  unknown: readonly Stretch[];
}

interface Stretch {
  readonly from: Instant;
  readonly to: Instant | null;
}

/** Stretches kept: more than a restart sequence looks back for. */
const KEPT = 8;

export interface Mark {
  readonly since: Span;
  readonly certain: boolean;
}

const neverSeen = (): Known => ({
  on: null,
  since: null,
  from: null,
  certain: false,
  unknown: [{ from: BEGINNING, to: null }],
});

export const newPicture = (): UnitPicture => ({
  run: neverSeen(),
  power: neverSeen(),
  call: neverSeen(),
  latched: null,
  held: null,
  failed: null,
  holdsInRow: 0,
});

/** An undervoltage hold this soon after a start is one of those that three in a row make a loss (handbook 6), seconds. */
const HOLD_SOON = 10;

/** Takes one edge into the picture. */
export function takeIntoPicture(picture: UnitPicture, edge: UnitEdge): void {
  const { span, certain, detail } = edge;
  const mark = { since: span, certain };
  switch (edge.kind) {
    case 'start':
      change(picture.run, true, edge);
      picture.held = null;
      return;
    case 'stop':
      change(picture.run, false, edge);
      picture.failed = null;
      return;
    case 'power-away':
      change(picture.power, false, edge);
      picture.latched = null;
      picture.held = null;
      picture.failed = null;
      picture.holdsInRow = 0;
      return;
    case 'power-back':
      return change(picture.power, true, edge);
    case 'call-on':
      return change(picture.call, true, edge);
    case 'call-off':
      change(picture.call, false, edge);
      picture.held = null;
      return;
    case 'latched':
      picture.latched = mark;
      picture.held = null;
      return;
    case 'released':
      picture.latched = null;
      return;
    case 'held':
      return hold(picture, edge);
    case 'free':
      picture.held = null;
      return;
    case 'failed':
      picture.failed = mark;
      return;
    case 'recovered':
      picture.failed = null;
      return;
    case 'unknown':
      return lose(picture[edgeOf(edge)], span.latest);
    case 'known':
      return find(picture[edgeOf(edge)], edge, detail?.['now'] === 1);
  }
}

function change(known: Known, on: boolean, edge: UnitEdge): void {
  known.on = on;
  known.since = edge.span;
  known.from = edge.span.latest;
  known.certain = edge.certain;
  const last = known.unknown.at(-1);
  if (last?.to === null)
    known.unknown = [...known.unknown.slice(0, -1), { from: last.from, to: edge.span.latest }];
}

function lose(known: Known, at: Instant): void {
  known.on = null;
  known.since = null;
  known.from = null;
  if (known.unknown.at(-1)?.to !== null)
    known.unknown = [...known.unknown.slice(1 - KEPT), { from: at, to: null }];
}

function find(known: Known, edge: UnitEdge, on: boolean): void {
  change(known, on, edge);
  known.since = null;
}

function hold(picture: UnitPicture, edge: UnitEdge): void {
  const why = String(edge.detail?.['why'] ?? '');
  const wait = boundsIn(edge, 'wait');
  const ran = boundsIn(edge, 'ran');
  const soon = why === 'undervoltage-hold' && ran !== null && ran[1] <= HOLD_SOON;
  picture.holdsInRow = soon ? picture.holdsInRow + 1 : 0;
  picture.held = { since: edge.span, certain: edge.certain, why, wait };
}

function boundsIn(edge: UnitEdge, name: string): readonly [number, number] | null {
  const found = edge.detail?.[name];
  return Array.isArray(found) ? (found as unknown as readonly [number, number]) : null;
}

/** Wasn't it known at some time within [from, to]? Before it was first seen it wasn't. */
export function unknownWithin(known: Known, from: Instant, to: Instant): boolean {
  return known.unknown.some((stretch) => stretch.from <= to && (stretch.to === null || stretch.to >= from));
}
