import { parseInstant } from '../../../shared/base/instant.ts';
import type { RecordingPreview } from '../../../shared/wire/recording-wire.ts';
import { drawnLength } from '../../../shared/wire/durations.ts';
import type { Zone } from '../page/zone.ts';

/** What a recorder's file shows, in the first sentence of its page. */
const KINDS = { sag: 'sag', swell: 'swell', interruption: 'interruption' } as const;

export function recordingLine(preview: RecordingPreview, panel: string, zone: Zone): string {
  const { excursions, startAt } = preview;
  const when =
    startAt === null ? '' : `, ${zone.day(parseInstant(startAt)!)} ${zone.clock(parseInstant(startAt)!)}`;
  if (preview.drawn.length === 0) return `No channel is chosen for a voltage of ${panel}${when}.`;
  const [first] = excursions;
  if (!first) return `The file shows no sag, swell or interruption on ${panel}${when}.`;
  const volts = `${first.residualVolts.toFixed(0)} V (${(100 * first.residualPerUnit).toFixed(1)} %)`;
  const lasts = first.seconds === null ? 'still on at its end' : `for ${drawnLength(first.seconds)}`;
  const more = excursions.length > 1 ? `, and ${excursions.length - 1} more` : '';
  return `The file shows a${first.kind === 'interruption' ? 'n' : ''} ${KINDS[first.kind]} on ${panel} to ${volts}, ${lasts}${more}${when}.`;
}
