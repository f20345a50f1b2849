import type { Candidate, Certainty } from '../../../shared/inference/event.ts';

/** What the three certainties mean, in the words of the definition (contract 4, handbook 4). */
export const CERTAINTY_WORDS: Record<Certainty, string> = {
  certain: 'certain – every history that fits what was seen contains it',
  probable: 'probable – anything else needs a coincidence',
  possible: 'possible – other histories fit as well',
};

export const FIT_WORDS: Record<Candidate['fit'], string> = {
  fits: 'fits',
  'needs-coincidence': 'needs a coincidence',
  excluded: 'excluded',
};
