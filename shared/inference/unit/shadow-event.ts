import type { Instant } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import type { EventDraft, Evidence } from '../event.ts';
import { instantly, saw, type Moment } from './moment.ts';
import type { ReferenceAnswer } from './shadow-reference.ts';
import { DISAGREEMENTS, type Way } from './shadow-ways.ts';
import type { Role } from './wiring.ts';

/** What was seen of the input that the output goes against, and what besides the control may be at fault. */
const SEEN: Readonly<Record<Way, { readonly role: Role; readonly value: number; readonly says: string }>> = {
  'on-without-power': {
    role: 'power',
    value: 0,
    says: 'control voltage was below 5 V while the output stayed on: its sensing, or the output’s, is at fault',
  },
  'on-without-call': {
    role: 'call',
    value: 0,
    says: 'the cooling call was gone while the output was on; the wire that senses it may be off',
  },
  'on-with-high-pressure': {
    role: 'high',
    value: 1,
    says: 'the high-pressure switch was open while the output was on; its contact may be recorded the wrong way round',
  },
  'on-with-low-pressure': {
    role: 'low',
    value: 1,
    says: 'the low-pressure switch was open for longer than the recorded bypass while the output was on',
  },
  'off-with-call': {
    role: 'call',
    value: 1,
    says: 'the cooling call was there, power and the high-pressure switch were well, and every delay that can be set was over',
  },
  'never-latches': {
    role: 'output',
    value: 1,
    says: 'the output came on again after four stops by one switch in one call',
  },
};

export function disagreement(
  moment: Moment,
  way: Way,
  since: Span,
  at: Instant,
  answers: readonly ReferenceAnswer[],
): EventDraft {
  const { role, value, says } = SEEN[way];
  const seenOn = moment.belief.shadow.now.output?.to === 1;
  const all = answers.reduce((sum, { variants }) => sum + variants, 0);
  return instantly(moment, 'control-disagrees', since, {
    discriminator: way,
    certainty: DISAGREEMENTS[way].certainty(moment),
    measures: { variants: all },
    evidence: [
      saw(moment, role, since.latest, value, says),
      saw(moment, 'output', at, seenOn ? 1 : 0, `the output was still ${seenOn ? 'on' : 'off'}`),
      ...answers.slice(0, MOST_ANSWERS).map((answer) => wouldHave(moment, answer, all)),
    ],
  });
}

/** Answers that are told one by one. */
const MOST_ANSWERS = 4;

function wouldHave(moment: Moment, { output, since, variants }: ReferenceAnswer, all: number): Evidence {
  const which =
    all === 1 ? '' : variants === all ? `, in all ${all} variants` : `, in ${variants} of ${all} variants`;
  return saw(
    moment,
    'output',
    since,
    +output,
    `the reference control would be ${output ? 'on' : 'off'} from here${which}`,
  );
}
