import type { PanelRestart, Spacing, UnitRestart } from '../review/restarts.ts';
import type { SiteReview } from '../review/site-review.ts';
import type { ReviewSentence } from './review-sentences.ts';
import { apartText, capital, counted, listed, secondText, type Named } from './review-words.ts';

/** What is said of restarts: when, how far apart, and what didn't come back (handbook 5.3). */
export const restartSentences = ({ restarts, together }: SiteReview, names: Named): ReviewSentence[] =>
  restarts.map((restart) => ({
    text: `${startedText(restart, names)} ${verdictText(restart, names)}`.trim(),
    evidence: [restart.event, ...together.filter(({ panel }) => panel === restart.panel).map(({ id }) => id)],
  }));

function startedText({ panel, back, supply, units }: PanelRestart, names: Named): string {
  const started = units.filter(({ outcome }) => outcome === 'started');
  const source = supply === 'not known' ? '' : `, fed by the ${supply}`;
  const when = `power’s return at ${secondText(back.latest, names.zone)}${source}`;
  if (started.length === 0) return `On ${names.panel(panel)} nothing restarted after ${when}.`;
  const times = started.flatMap(({ startedSeconds }) => (startedSeconds ? [startedSeconds] : []));
  const first = Math.round(Math.min(...times.map(([low]) => low)));
  const last = Math.round(Math.max(...times.map(([, high]) => high)));
  const span = first === last ? `${first} s` : `${first} to ${last} s`;
  const who = started.length === 1 ? names.unit(started[0]!.unit) : counted(started.length, 'unit');
  const late = started.filter(isLate).map(({ unit }) => names.unit(unit));
  const off = late.length > 0 ? `, ${listed(late)} not as planned` : '';
  return `On ${names.panel(panel)} ${who} restarted ${span} after ${when}${off}.`;
}

/** The start lies off its plan for certain, and by more than the hand-set dial may be: what the call set isn't late. */
const PLAN_ERROR = 10;
const isLate = ({ deviationSeconds, setBy }: UnitRestart): boolean =>
  setBy !== 'call' &&
  deviationSeconds !== null &&
  (deviationSeconds[0] > PLAN_ERROR || deviationSeconds[1] < -PLAN_ERROR);

function verdictText({ spacings, verdict, minimumSeconds }: PanelRestart, names: Named): string {
  const minimum = `the panel’s minimum is ${minimumSeconds} s`;
  const pair = ({ first, second, seconds }: Spacing) =>
    `${names.unit(first)} and ${names.unit(second)} (${apartText(seconds)})`;
  const of = (kind: Spacing['verdict']) => spacings.filter((one) => one.verdict === kind);
  if (verdict === 'simultaneous')
    return `Started together: ${listed(of('simultaneous').map(pair))}; ${minimum}.`;
  if (verdict === 'separate') {
    const least = Math.min(...spacings.map(({ seconds }) => seconds[0]));
    return `Kept apart by ${least.toFixed(1)} s or more; ${minimum}.`;
  }
  if (verdict === 'cannot-be-told')
    return `Whether they were kept apart can’t be told: ${listed(of('cannot-be-told').map(pair))}; ${minimum}. ${tellingText(of('cannot-be-told'))}`;
  return '';
}

function tellingText(pairs: readonly Pick<Spacing, 'tellingPeriodSeconds'>[]): string {
  const period = Math.min(...pairs.map(({ tellingPeriodSeconds }) => tellingPeriodSeconds ?? 0));
  return period > 0 ? `Polling each ${period} s would tell.` : 'Only reporting on change would tell.';
}

const OFF: Partial<Record<UnitRestart['outcome'], string>> = {
  overdue: 'was called and didn’t come back',
  'no-power': 'had no control power yet',
  'locked-out': 'was latched',
};

/** Which units that were called stayed off, by the last restart of each panel. */
export function stayedOffSentence({ restarts, units }: SiteReview, names: Named): ReviewSentence {
  const last = new Map(restarts.map((restart) => [restart.panel, restart]));
  const off = [...last.values()].flatMap(({ event, units: all }) =>
    all.flatMap(({ unit, outcome }) =>
      OFF[outcome] ? [{ event, says: `${names.unit(unit)} ${OFF[outcome]}` }] : [],
    ),
  );
  if (off.length > 0)
    return { text: `${off.map(({ says }) => says).join('; ')}.`, evidence: off.map(({ event }) => event) };
  const waiting = [...last.values()].flatMap(({ event, units: all }) =>
    all.filter(({ outcome }) => outcome === 'waiting').map(({ unit }) => ({ unit, event })),
  );
  if (waiting.length > 0)
    return {
      text: `${capital(listed(waiting.map(({ unit }) => names.unit(unit))))} ${waiting.length === 1 ? 'is' : 'are'} still awaited.`,
      evidence: waiting.map(({ event }) => event),
    };
  const dropped = units.filter(({ outcome, stillOff }) => outcome === 'dropped' && stillOff);
  if (dropped.length > 0)
    return {
      text: `${listed(dropped.map(({ unit }) => names.unit(unit)))} ${dropped.length === 1 ? 'hasn’t' : 'haven’t'} started again since.`,
      evidence: dropped.flatMap(({ evidence }) => evidence),
    };
  const known = units.filter(({ outcome }) => outcome !== 'not-known');
  if (known.length === 0) return { text: 'Which units came back isn’t known.', evidence: [] };
  const heard = known.length < units.length ? ', and is heard of,' : '';
  return {
    text: `Every unit that was called${heard} came back.`,
    evidence: [...last.values()].map(({ event }) => event),
  };
}
