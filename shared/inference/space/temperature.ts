import type { Instant } from '../../base/instant.ts';
import { exactly, type Span } from '../../base/span.ts';
import type { EventDraft } from '../event.ts';
import { ownPoint, takeKnowledge, takeReading, type OwnPoint } from '../members/own-points.ts';
import { signalOfKey, type Item, type ReadingItem } from '../members/queue.ts';
import { draftAbout } from '../subject-draft.ts';
import type { Edge } from '../track.ts';
import { reach } from './ability.ts';
import { pushEdge, type Level } from './line.ts';
import type { Hot, SpaceMoment } from './state.ts';

/**
 * Above the limit, as measured (contract 4, high-temperature: measured). A gap neither begins nor ends it: what was above
 * before a gap and is above after it is one event, whose end, once seen, may have been anywhere from the gap on.
 */
export function takeTemperature(moment: SpaceMoment, item: ReadingItem): void {
  if (signalOfKey(item.key) !== 'space-temperature') return;
  const own = ownPoint(moment.state.points, item.key);
  const before = own.seen?.t ?? null;
  const limit = moment.place.space?.temperatureLimit ?? null;
  const level = item.value === null ? null : limit !== null && item.value > limit ? 1 : 0;
  for (const edge of takeReading(own, item, level)) changed(moment, item.key, edge, before);
  const { hot } = moment.state;
  if (hot && item.value !== null && hot.point === item.key) hot.peak = Math.max(hot.peak, item.value);
}

export function takeTemperatureKnowledge(moment: SpaceMoment, item: Item & { kind: 'lost' | 'back' }): void {
  const own = ownPoint(moment.state.points, item.key);
  const before = own.seen?.t ?? null;
  for (const edge of takeKnowledge(own, item)) changed(moment, item.key, edge, before);
}

/** A chain of changes within the debounce has closed. */
export const temperatureChanged = (moment: SpaceMoment, key: string, edge: Edge): void =>
  changed(moment, key, edge, edge.earliest);

function changed(moment: SpaceMoment, key: string, edge: Edge, before: Instant | null): void {
  if (signalOfKey(key) !== 'space-temperature') return;
  const { hot } = moment.state;
  if (hot && hot.point !== key) return;
  if (edge.to === null) {
    drawHot(moment, edge, { known: false });
    if (hot) hot.gapFrom ??= Math.min(before ?? edge.earliest, edge.earliest);
  } else if (edge.to === 1) {
    drawHot(moment, edge, { so: true });
    if (!hot) moment.state.hot = begun(moment, key, edge, before);
  } else {
    drawHot(moment, edge, { so: false });
    if (hot) end(moment, hot, { earliest: hot.gapFrom ?? edge.earliest, latest: edge.latest });
  }
}

/** The same as a line. After a gap only from the next sample on: what was within it isn't known. */
function drawHot(moment: SpaceMoment, edge: Edge, to: Partial<Level>): void {
  pushEdge(moment.state.hotLine, edge.from === null ? exactly(edge.latest) : edge, to);
  reach(moment, edge);
}

function begun({ state }: SpaceMoment, key: string, edge: Edge, before: Instant | null): Hot {
  const start = {
    earliest: edge.from === null ? (before ?? edge.earliest) : edge.earliest,
    latest: edge.latest,
  };
  const startSeen = edge.from !== null || before !== null;
  return { start, startSeen, point: key, peak: state.points[key]!.seen!.value!, gapFrom: null };
}

function end(moment: SpaceMoment, hot: Hot, span: Span): void {
  moment.state.hot = null;
  moment.out.event(hotEvent(moment, hot, span));
}

/** Another limit holds from here on. */
export function relevel(moment: SpaceMoment): void {
  const { state, place, t } = moment;
  const limit = place.space?.temperatureLimit ?? null;
  for (const [key, own] of Object.entries(state.points)) {
    if (signalOfKey(key) !== 'space-temperature' || own.track.raw === null || !own.seen) continue;
    const level = limit !== null && own.seen.value! > limit ? 1 : 0;
    if (level === own.track.raw) continue;
    enter(moment, key, own, { ...exactly(t), from: own.track.raw, to: level });
  }
}

function enter(moment: SpaceMoment, key: string, own: OwnPoint, edge: Edge): void {
  own.track.raw = edge.to;
  own.track.chain = null;
  own.level = edge.to;
  changed(moment, key, edge, moment.t);
}

export function hotEvent({ context, place }: SpaceMoment, hot: Hot, end: Span | null): EventDraft {
  const limit = place.space?.temperatureLimit ?? null;
  return draftAbout(context.subject, {
    kind: 'high-temperature',
    cause: 'measured',
    start: hot.start,
    end,
    certainty: hot.startSeen ? 'certain' : 'probable',
    causeCertainty: 'certain',
    pending: end ? [] : ['end'],
    measures: { limitTemperature: limit, peakTemperature: hot.peak },
    evidence: [
      {
        signal: 'space-temperature',
        device: hot.point.slice(0, hot.point.indexOf('/')),
        t: hot.start.latest,
        value: null,
        says: hot.startSeen ? 'rose above the limit' : 'was above the limit when first measured',
      },
    ],
  });
}
