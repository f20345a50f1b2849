/** Where a metric of Sparkplug B is: `<group>/<edge node>/<device>/<metric>`, as a point's `sparkplug` names it. */
export interface SparkplugName {
  readonly group: string;
  readonly edge: string;
  /** empty: the edge node's own metric */
  readonly device: string;
  /** may hold slashes */
  readonly metric: string;
}

/**
 * `<group>/<edge>/<device>/<metric>`; for an edge node's own metric the device is empty (`<group>/<edge>//<metric>`), or left
 * out where the metric's name has no slash. Null: a part is missing, or has a character that no topic may have.
 */
export function parseSparkplugName(text: string): SparkplugName | null {
  const [group = '', edge = '', ...rest] = text.split('/');
  const [device, ...words] = rest.length > 1 ? rest : ['', ...rest];
  const metric = words.join('/');
  if (group === '' || edge === '' || metric === '') return null;
  // reserved in ids (Sparkplug 3.0, tck-id-intro-edge-node-id-chars and its like)
  if (/[+#]/.test(group + edge + device!) || text.includes('\u0000')) return null;
  return { group, edge, device: device!, metric };
}

/** How a metric is called within its edge node: a device's id has no slash, so no two are the same. */
export const metricKey = (device: string, metric: string): string => `${device}/${metric}`;
