/** Sparkplug B's name space, the first level of all its topics (Sparkplug 3.0 section 4.1). */
export const NAMESPACE = 'spBv1.0';

export type NodeKind = 'NBIRTH' | 'NDATA' | 'NDEATH';
export type DeviceKind = 'DBIRTH' | 'DDATA' | 'DDEATH';

/** What an edge node says of itself (device empty), or of one of its devices. */
export interface SparkplugTopic {
  readonly group: string;
  readonly edge: string;
  readonly kind: NodeKind | DeviceKind;
  readonly device: string;
}

const KINDS: Readonly<Record<string, 'node' | 'device'>> = {
  NBIRTH: 'node',
  NDATA: 'node',
  NDEATH: 'node',
  DBIRTH: 'device',
  DDATA: 'device',
  DDEATH: 'device',
};

export const isSparkplug = (topic: string): boolean => topic.startsWith(`${NAMESPACE}/`);

/** `spBv1.0/<group>/<kind>/<edge>[/<device>]`; null: STATE, a command, or nothing of Sparkplug's. */
export function parseSparkplugTopic(topic: string): SparkplugTopic | null {
  const [namespace, group = '', kind = '', edge = '', device = '', ...more] = topic.split('/');
  const about = Object.hasOwn(KINDS, kind) ? KINDS[kind] : undefined;
  if (namespace !== NAMESPACE || about === undefined || group === '' || edge === '' || more.length > 0)
    return null;
  if ((about === 'device') !== (device !== '')) return null;
  return { group, edge, kind: kind as NodeKind | DeviceKind, device };
}

/** Everything that one edge node says, and no other. */
export const edgeFilter = (group: string, edge: string): string => `${NAMESPACE}/${group}/+/${edge}/#`;
export const commandTopic = (group: string, edge: string): string => `${NAMESPACE}/${group}/NCMD/${edge}`;
export const stateTopic = (host: string): string => `${NAMESPACE}/STATE/${host}`;
