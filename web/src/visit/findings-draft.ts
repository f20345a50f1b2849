import type { Findings, FoundCause, Measure, ReadingKind } from '../../../shared/visit/findings.ts';

/** Findings as they are typed in, and as they are sent. */
export interface FindingsDraft {
  shown: string;
  cause: FoundCause | '';
  causeSays: string;
  action: string;
  parts: string;
  readings: ReadingDraft[];
}

interface ReadingDraft {
  of: ReadingKind;
  value: string;
  measure: Measure;
}

export const noDraft = (): FindingsDraft => ({
  shown: '',
  cause: '',
  causeSays: '',
  action: '',
  parts: '',
  readings: [],
});

export const noReading = (): ReadingDraft => ({ of: 'discharge-pressure', value: '', measure: 'psi' });

/** A text says what is wrong. A reading with no value is left out; a comma is a decimal point. */
export function findingsOf(draft: FindingsDraft): Findings | string {
  if (draft.cause === '') return 'Choose a cause, or “Not found”.';
  const action = draft.action.trim();
  if (action === '') return 'Say what was done.';
  const readings = draft.readings
    .filter(({ value }) => value.trim() !== '')
    .map(({ of, value, measure }) => ({ of, measure, value: Number(value.trim().replace(',', '.')) }));
  if (readings.some(({ value }) => !Number.isFinite(value))) return 'A reading is a number.';
  return {
    shown: draft.shown.trim() || null,
    cause: draft.cause,
    causeSays: draft.causeSays.trim() || null,
    action,
    parts: draft.parts
      .split('\n')
      .map((part) => part.trim())
      .filter(Boolean),
    readings,
  };
}
