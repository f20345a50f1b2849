/**
 * Topics of our own for a stack light or sounder, and whether anything of a unit or a gateway listens there: this server
 * publishes to nothing that acts on a unit.
 */
export const lightTopic = (root: string, site: string): string => `${root}/${site}/state`;
/** `1` while this server lives; its last will says `0` */
export const aliveTopic = (root: string): string => `${root}/alive`;

/** Why a root can't be taken; null: it can. */
export function refusedRoot(root: string, telemetryRoot: string): string | null {
  if (!/^[^/#+$][^#+]*$/.test(root) || root.endsWith('/'))
    return `SOUNDER_ROOT is “${root}”: give the first words of a topic, without wildcards.`;
  if (root === 'spBv1.0' || root.startsWith('spBv1.0/'))
    return 'SOUNDER_ROOT=spBv1.0: equipment listens to topics of Sparkplug. Give a root of its own.';
  if (isWithin(root, telemetryRoot) || isWithin(telemetryRoot, root))
    return `SOUNDER_ROOT=${root}: telemetry comes under ${telemetryRoot}. Give a root of its own, as holdoff-sounder.`;
  return null;
}

const isWithin = (root: string, other: string): boolean => root === other || root.startsWith(`${other}/`);

/** The first topic of a site's document that meets ours; null: none does. */
export function meetsSounder(root: string, document: unknown): string | null {
  return sourceTopics(document).find((topic) => meets(topic.split('/'), root.split('/'))) ?? null;
}

/** Does a filter (MQTT 5 section 4.7) take anything at or below these words. */
function meets(filter: readonly string[], words: readonly string[]): boolean {
  for (const [n, word] of words.entries()) {
    if (filter[n] === '#') return true;
    if (filter[n] === undefined || (filter[n] !== '+' && filter[n] !== word)) return false;
  }
  return true;
}

function sourceTopics(part: unknown): string[] {
  if (typeof part !== 'object' || part === null) return [];
  if (Array.isArray(part)) return part.flatMap(sourceTopics);
  const { source } = part as { source?: { topic?: unknown } };
  const own = typeof source?.topic === 'string' ? [source.topic] : [];
  return [...own, ...Object.values(part).flatMap(sourceTopics)];
}
