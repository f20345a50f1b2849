import type { EventDraft, Measure } from '../inference/event.ts';

/**
 * How far the voltage went, in words: `down to 70 % (168 V), an instantaneous sag`; `to 75 % (180 V) or lower`; `how low
 * wasn’t measured`. null for events of other kinds.
 */
export function excursionText({ kind, measures }: Pick<EventDraft, 'kind' | 'measures'>): string | null {
  if (kind !== 'voltage-sag' && kind !== 'voltage-swell' && kind !== 'interruption') return null;
  const { residualPerUnit, residualVolts } = measures;
  const ends = [boundsOf(residualPerUnit), boundsOf(residualVolts)];
  const isSwell = kind === 'voltage-swell';
  if (!ends[0] || !ends[1]) return 'how low wasn’t measured';
  const [share, volts] = ends.map((pair) => pair![isSwell ? 0 : 1]);
  const seen = `${figure(share! * 100)} % (${figure(volts!)} V)`;
  const isExact = ends[0][0] === ends[0][1];
  const beyond = isSwell ? 'higher' : 'lower';
  const reach = isExact ? `${isSwell ? 'up' : 'down'} to ${seen}` : `to ${seen} or ${beyond}`;
  return [reach, classText(measures['class'])].filter(Boolean).join(', ');
}

const boundsOf = (measure: Measure | undefined): readonly [number, number] | null => {
  if (typeof measure === 'number') return [measure, measure];
  return Array.isArray(measure) ? (measure as [number, number]) : null;
};

const figure = (value: number): string => String(Math.round(value * 10) / 10);

function classText(said: Measure | undefined): string | null {
  if (typeof said !== 'string' || said === 'not measured') return null;
  return `${/^[aeiou]/.test(said) ? 'an' : 'a'} ${said}`;
}
