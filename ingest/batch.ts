import type { CommitBatch } from '../db/commit.ts';
import type { LifeColumns } from '../db/gateway-lives.ts';
import type { IntervalRow } from '../db/intervals.ts';
import { laterWaveform, type WaveformRow } from '../db/waveforms.ts';
import type { HeardRow } from '../db/last-heard.ts';
import type { RejectedRow } from '../db/rejected.ts';
import type { WatchMark } from '../db/watch-marks.ts';
import { SECOND, type Instant } from '../shared/base/instant.ts';
import { mergeIntervals } from '../shared/telemetry/interval.ts';
import type { Lateness } from './arrivals.ts';
import type { KnownGateway } from './catalogue.ts';
import { decode, type DecodeContext } from './decode/decode.ts';
import type { Decoded, TakenInterval, TakenSample, TakenWaveform } from './decode/decoded.ts';
import type { Message } from './message.ts';
import { sampleColumns } from './sample-batch.ts';

/** What goes into one transaction, and what it holds, for observations. */
export interface Batch {
  readonly commit: CommitBatch;
  readonly samples: number;
  readonly rejected: readonly (RejectedRow & { readonly entries: number })[];
}

export interface BatchContext extends DecodeContext {
  readonly lateness: Lateness;
  /** a life that is committed already needs no writing: at most one a second and gateway is */
  readonly isLifeKnown: (lifeId: number, t: Instant) => boolean;
}

/** Messages decoded one by one and laid together; at the end sorted and merged as the tables' keys ask. */
export class BatchMaker {
  readonly #context: BatchContext;
  readonly #samples: TakenSample[] = [];
  readonly #intervals: TakenInterval[] = [];
  readonly #waveforms: TakenWaveform[] = [];
  readonly #heard: HeardRow[] = [];
  readonly #rejected: (RejectedRow & { readonly entries: number })[] = [];
  readonly #lives: Lives;

  constructor(context: BatchContext) {
    this.#context = context;
    this.#lives = new Lives(context);
  }

  add(message: Message): void {
    const { receivedAt, topic } = message;
    const decoded = decode(message, this.#context);
    for (const sample of decoded.samples) this.#samples.push(sample);
    for (const interval of decoded.intervals) this.#intervals.push(interval);
    for (const waveform of decoded.waveforms) this.#waveforms.push(waveform);
    for (const { point, value, why } of decoded.heard)
      this.#heard.push({ pointId: point.id, heardAt: receivedAt, value, why });
    for (const entry of decoded.rejected) this.#rejected.push({ ...entry, receivedAt, topic });
    this.#lives.take(decoded, receivedAt);
    for (const mark of decoded.stale) this.#samples.push(mark);
  }

  finish(marks: readonly WatchMark[]): Batch {
    const { catalogue, lateness } = this.#context;
    const commit = {
      revision: catalogue.revision,
      samples: sampleColumns(this.#samples),
      lives: this.#lives.columns(),
      intervals: intervalRows(this.#intervals),
      waveforms: waveformRows(this.#waveforms),
      heard: newestOfEach(this.#heard),
      rejected: this.#rejected,
      arrivals: marks.length > 0 ? lateness.take() : [],
      marks: joinMarks(marks),
    };
    return { commit, samples: this.#samples.length, rejected: this.#rejected };
  }
}

/** A gateway's signs of life: the newest time of each message, whole seconds; heartbeats exactly. */
class Lives {
  readonly #context: BatchContext;
  readonly #found = new Map<string, { readonly lifeId: number; readonly t: Instant }>();
  readonly #newest = new Map<KnownGateway, Instant>();

  constructor(context: BatchContext) {
    this.#context = context;
  }

  take({ samples, intervals, waveforms, heartbeats, claimed }: Decoded, receivedAt: Instant): void {
    for (const { point, t } of samples) this.#see(point.gateway, t);
    for (const { point, to } of intervals) this.#see(point.gateway, to);
    for (const { point, until } of waveforms) this.#see(point.gateway, until);
    for (const [gateway, t] of this.#newest) this.#add(gateway.lifeId, Math.floor(t / SECOND) * SECOND);
    this.#newest.clear();
    for (const [gateway, t] of claimed) this.#context.lateness.add(gateway, t, receivedAt);
    for (const { gateway, t } of heartbeats) this.#add(gateway.lifeId, t);
  }

  columns(): LifeColumns {
    const sorted = [...this.#found.values()].sort((a, b) => a.lifeId - b.lifeId || a.t - b.t);
    return {
      length: sorted.length,
      pointId: sorted.map(({ lifeId }) => lifeId),
      t: sorted.map(({ t }) => t),
    };
  }

  /** of the message that is taken */
  #see(gateway: KnownGateway, t: Instant): void {
    if (t > (this.#newest.get(gateway) ?? -Infinity)) this.#newest.set(gateway, t);
  }

  #add(lifeId: number, t: Instant): void {
    if (!this.#context.isLifeKnown(lifeId, t)) this.#found.set(`${lifeId} ${t}`, { lifeId, t });
  }
}

function intervalRows(intervals: readonly TakenInterval[]): IntervalRow[] {
  const rows: IntervalRow[] = [];
  const sorted = intervals.map(({ point, ...interval }) => ({ pointId: point.id, ...interval }));
  sorted.sort((a, b) => a.pointId - b.pointId || a.to - b.to || a.from - b.from);
  for (const row of sorted) {
    const last = rows.at(-1);
    const same = last?.pointId === row.pointId && last.to === row.to && last.from === row.from;
    if (same) rows[rows.length - 1] = { pointId: row.pointId, ...mergeIntervals(last, row) };
    else rows.push(row);
  }
  return rows;
}

function waveformRows(waveforms: readonly TakenWaveform[]): WaveformRow[] {
  const rows = new Map<string, WaveformRow>();
  for (const { point, t, stepSeconds, scale, values } of waveforms) {
    const row = { pointId: point.id, t, stepSeconds, scale, values };
    const other = rows.get(`${point.id} ${t}`);
    rows.set(`${point.id} ${t}`, other ? laterWaveform(other, row) : row);
  }
  return [...rows.values()].sort((a, b) => a.pointId - b.pointId || a.t - b.t);
}

function newestOfEach(heard: readonly HeardRow[]): HeardRow[] {
  const newest = new Map(heard.map((row) => [row.pointId, row]));
  return [...newest.values()].sort((a, b) => a.pointId - b.pointId);
}

/** Marks of one stretch of watching are one mark, up to the latest; a gap stays where it was among them. */
function joinMarks(marks: readonly WatchMark[]): WatchMark[] {
  const joined: WatchMark[] = [];
  for (const mark of marks) {
    const last = joined.at(-1);
    const same = last?.from === mark.from && (last.isGap ?? false) === (mark.isGap ?? false);
    if (!same) joined.push(mark);
    else if (mark.to > last.to) joined[joined.length - 1] = mark;
  }
  return joined;
}
