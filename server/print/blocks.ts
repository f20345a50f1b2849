import type { Instant } from '../../shared/base/instant.ts';
import type { Drawing } from '../../shared/wire/drawings.ts';

/** What is to be printed, as plain values. Words, times and figures come as they are to be read. */
export interface PrintedDocument {
  readonly title: string;
  /** stands at the foot of each page: the zone of the times, where it can be read on screen */
  readonly foot: string;
  readonly paper: Paper;
  readonly madeAt: Instant;
  readonly blocks: readonly Block[];
}

export type Paper = 'a4' | 'letter';

/** The paper of a place: North America prints on Letter [common practice, no source]. */
export const paperOf = (timeZone: string): Paper =>
  /^(America|US|Canada)\//.test(timeZone) ? 'letter' : 'a4';

export type Block =
  | { readonly kind: 'heading'; readonly text: string }
  | { readonly kind: 'paragraph'; readonly text: string; readonly small?: boolean }
  | { readonly kind: 'list'; readonly items: readonly string[] }
  | TableBlock
  | ChartBlock
  | { readonly kind: 'legend'; readonly drawings: readonly (readonly [Drawing, string])[] }
  /** boxes to tick and lines to write on, for whoever works with a pen */
  | { readonly kind: 'fields'; readonly labels: readonly string[] };

export interface TableBlock {
  readonly kind: 'table';
  readonly columns: readonly PrintedColumn[];
  readonly rows: readonly (readonly string[])[];
}

export interface PrintedColumn {
  readonly name: string;
  /** share of the width; they are scaled to fill it */
  readonly width: number;
  readonly align?: 'right';
}

/** A column of figures. */
export const figures = (name: string, width: number): PrintedColumn => ({ name, width, align: 'right' });

/** The timing chart: lanes over one axis, then lines of measured values. */
export interface ChartBlock {
  readonly kind: 'chart';
  readonly from: Instant;
  readonly to: Instant;
  readonly ticks: readonly { readonly at: Instant; readonly label: string }[];
  readonly lanes: readonly PrintedLane[];
  readonly plots: readonly PrintedPlot[];
  /** instants through all lanes, named above */
  readonly marks: readonly { readonly at: Instant; readonly label: string }[];
}

export interface PrintedLane {
  readonly name: string;
  readonly pieces: readonly { readonly from: Instant; readonly to: Instant; readonly drawing: Drawing }[];
}

export interface PrintedPlot {
  readonly name: string;
  readonly low: number;
  readonly high: number;
  readonly points: readonly { readonly t: Instant; readonly least: number; readonly most: number }[];
  readonly thresholds: readonly { readonly value: number; readonly says: string }[];
}
