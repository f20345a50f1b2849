import { filtersOverlap, topicFilterFault } from '../telemetry/topic-filter.ts';
import { parseSparkplugName } from '../telemetry/sparkplug-name.ts';
import type { PointDocument } from './site-document.ts';

type Say = (pointer: string, message: string) => void;

/** A point that names where its values come from, and its place in the document. */
export interface SourcedPoint {
  readonly pointer: string;
  readonly point: PointDocument;
}

/**
 * Where values come from, other than the root topic (contract 1.2, 1.3): each source is one that can be listened to, a point
 * has one of them, and no value is two points'.
 */
export function checkSources(points: readonly SourcedPoint[], say: Say): void {
  for (const { pointer, point } of points) checkSource(pointer, point, say);
  checkSharedTopics(points, say);
  checkSharedMetrics(points, say);
}

function checkSource(pointer: string, { source, sparkplug }: PointDocument, say: Say): void {
  const fault = source === undefined ? null : topicFilterFault(source.topic);
  if (fault) say(`${pointer}/source/topic`, fault);
  if (sparkplug !== undefined && parseSparkplugName(sparkplug) === null)
    say(`${pointer}/sparkplug`, 'Give "group/edge node/device/metric name", without wildcards.');
  if (source !== undefined && sparkplug !== undefined)
    say(`${pointer}/sparkplug`, 'A point has one source: keep either "source" or "sparkplug".');
}

/** Two points may listen to one topic at different pointers; the same value of the same message is one point's. */
function checkSharedTopics(points: readonly SourcedPoint[], say: Say): void {
  const taken = new Map<string, TakenTopics>();
  for (const { pointer: at, point } of points) {
    if (!point.source) continue;
    const { topic, pointer = '' } = point.source;
    let topics = taken.get(pointer);
    if (!topics) taken.set(pointer, (topics = new TakenTopics()));
    const other = topics.take(topic, at);
    if (other)
      say(
        `${at}/source`,
        `The value at "${pointer}" of ${topic} is taken by ${other.at} already (${other.topic}): give one of them another topic or pointer.`,
      );
  }
}

interface TakenTopic {
  readonly topic: string;
  readonly at: string;
}

/** Filters of one pointer. Those without wildcards, nearly all, are looked up; a site has thousands of points. */
class TakenTopics {
  readonly #exact = new Map<string, TakenTopic>();
  readonly #wild: TakenTopic[] = [];

  /** The filter that takes some of the same topics, if there is one. */
  take(topic: string, at: string): TakenTopic | null {
    const overlaps = (other: TakenTopic) => filtersOverlap(other.topic, topic);
    const isWild = /[+#]/.test(topic);
    const exact = isWild ? [...this.#exact.values()].find(overlaps) : this.#exact.get(topic);
    const other = exact ?? this.#wild.find(overlaps) ?? null;
    if (isWild) this.#wild.push({ topic, at });
    else if (!exact) this.#exact.set(topic, { topic, at });
    return other;
  }
}

function checkSharedMetrics(points: readonly SourcedPoint[], say: Say): void {
  const taken = new Map<string, string>();
  for (const { pointer, point } of points) {
    const name = point.sparkplug === undefined ? null : parseSparkplugName(point.sparkplug);
    if (!name) continue;
    const key = [name.group, name.edge, name.device, name.metric].join('/');
    const other = taken.get(key);
    if (other) say(`${pointer}/sparkplug`, `This metric is taken by ${other} already: give another.`);
    else taken.set(key, pointer);
  }
}
