import { isSignalName, type SignalName } from '../../../shared/telemetry/signals.ts';
import type { EventView } from '../view/site-view.ts';

const EXCURSIONS: ReadonlySet<string> = new Set(['voltage-sag', 'voltage-swell', 'interruption']);

/** The line voltages that an event of the supply was seen on: `A–B, C–A` is `line-voltage-ab` and `-ca`; none where no meter saw it. */
export function lineSignals({ kind, evidence, measures }: EventView): readonly SignalName[] {
  if (!EXCURSIONS.has(kind)) return [];
  const seen = evidence.map(({ signal }) => signal).filter((signal) => signal.startsWith('line-voltage'));
  const channels = typeof measures['channels'] === 'string' ? measures['channels'].split(', ') : [];
  const named = channels
    .map((name) => `line-voltage-${name.toLowerCase().replace('–', '')}`)
    .filter(isSignalName);
  return [...new Set([...seen, ...named])].sort();
}
