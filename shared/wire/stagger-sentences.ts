import { drawnLength } from './durations.ts';
import type {
  KeptAnswer,
  ProposalAnswer,
  StaggerItem,
  StaggerList,
  WireStaggerPlan,
} from './stagger-answer.ts';

/** Plans and proposals in sentences: what would be set, what is promised, what it costs, what became of it. */
type Names = Readonly<Record<string, string>>;
type Unit = WireStaggerPlan['units'][number];

const few = (seconds: number): string => drawnLength(Math.round(seconds * 10) / 10);
const count = (n: number, one: string, many: string): string => `${n} ${n === 1 ? one : many}`;
const listed = (words: readonly string[]): string =>
  words.length < 2 ? (words[0] ?? '') : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`;

/** The first line of the list over all panels. */
export function listAnswer({ items, panels, outages }: StaggerList): string {
  const together = items.filter((item) => item.together > 0);
  if (together.length === 0)
    return panels === 0
      ? 'There is no panel yet.'
      : `No starts were seen to come together in the last ${outages} outages of any panel.`;
  const spare = together.filter(({ spared, changes }) => spared > 0 && changes > 0);
  const visits = new Set(spare.map(({ site }) => site.id)).size;
  const starts = spare.reduce((sum, { spared }) => sum + spared, 0);
  const first = `${count(together.length, 'panel restarts', 'panels restart')} together`;
  if (visits === 0) return `${first}; other delays alone would keep none of the starts apart.`;
  return `${first}; ${count(visits, 'visit', 'visits')} would keep ${count(starts, 'start', 'starts')} apart.`;
}

/** What a panel's units are to be set to. */
export const setsText = (sets: StaggerItem['sets'], names: Names): string =>
  listed(sets.map(({ unit, from, to }) => `${names[unit] ?? unit} from ${from} to ${to} s`));

const HOLDS: Readonly<Record<NonNullable<WireStaggerPlan['hold']>, string>> = {
  'worst-case': 'however timers and dials are off',
  timers: 'however timers are off, as long as each dial is set right',
  nominal: 'as set; timers that are off may bring some closer',
};

/** The first line of a panel's plan. */
export function planAnswer(plan: WireStaggerPlan, names: Names): string {
  if (plan.outcome === 'nothing-to-plan')
    return 'Nothing to keep apart: fewer than two units are on this panel.';
  if (plan.outcome === 'other-means')
    return 'Delays alone can’t keep these apart, and the supply doesn’t bear two together: sequencing needs other means.';
  const changed = plan.units.filter(({ isChange }) => isChange);
  const apart = `keeps ${plan.outcome === 'groups' ? `${plan.groups.length} groups of starts` : 'all starts'} at least ${few(leastApart(plan))} apart`;
  const promise = plan.hold === null ? '' : `, ${HOLDS[plan.hold]}`;
  if (changed.length === 0) return `Nothing is to be set: it ${apart}${promise}.`;
  return `Setting ${listed(changed.map((unit) => setText(unit, names)))} ${apart}${promise}.`;
}

const setText = ({ id, proposed }: Unit, names: Names): string =>
  `${names[id] ?? id} to ${proposed.offDelay} s`;

/** The least spacing that is promised, between groups. */
function leastApart({ spacings, hold }: WireStaggerPlan): number {
  const of = { 'worst-case': 'worstCase', timers: 'timersOnly', nominal: 'nominal' } as const;
  const apart = spacings.filter(({ isTogether }) => !isTogether).map((one) => one[of[hold ?? 'nominal']]);
  return Math.max(0, Math.min(...apart));
}

/** What it costs, in words. */
export function priceText({ laterSeconds, offDelayLaterSeconds }: WireStaggerPlan['price']): string {
  if (laterSeconds <= 0.05) return 'It costs nothing: cooling returns no later than now.';
  const ordinary =
    offDelayLaterSeconds > 0 ? `, and up to ${few(offDelayLaterSeconds)} later after an ordinary stop` : '';
  return `Cooling returns up to ${few(laterSeconds)} later after an outage${ordinary}.`;
}

/** How likely all are apart, now and as proposed. */
export function likelihoodText({ proposed, now }: WireStaggerPlan['likelihood']): string {
  const said = `At any restart all are apart with ${share(proposed)} probability`;
  return now === null
    ? `${said}; now it can’t be told, since a delay isn’t recorded.`
    : `${said}; now with ${share(now)}.`;
}

function share({ value, isAtLeast }: WireStaggerPlan['likelihood']['proposed']): string {
  const percent =
    value > 0 && value < 0.01
      ? 'less than 1 %'
      : value < 1 && value > 0.99
        ? 'more than 99 %'
        : `${Math.round(value * 100)} %`;
  return isAtLeast ? `at least ${percent}` : percent;
}

/** What starts together, and whether the supply bears it. */
export function groupTexts({ groups }: WireStaggerPlan, names: Names): string[] {
  return groups
    .filter(({ units, voltages }) => units.length > 1 || voltages.some(({ isBorne }) => isBorne === false))
    .map(({ units, amps, voltages }) => {
      const who = listed(units.map((id) => names[id] ?? id));
      const together = units.length > 1 ? `${who} start together` : `${who} starts alone`;
      if (amps === null)
        return `${together}: whether the supply bears it can’t be told, since locked-rotor amps aren’t recorded.`;
      if (voltages.length === 0) return `${together} with ${Math.round(amps)} A: the supply isn’t recorded.`;
      return `${together} with ${Math.round(amps)} A: ${voltages.map(voltageText).join('; ')}.`;
    });
}

const voltageText = ({
  supply,
  share: left,
  isBorne,
}: WireStaggerPlan['groups'][number]['voltages'][number]): string =>
  left === null
    ? `can’t be told on the ${supply}`
    : `${Math.round(left * 1000) / 10} % of the voltage is left on the ${supply}${isBorne ? '' : ', too little'}`;

export const BY_WORDS: Readonly<Record<Unit['by'], string>> = {
  set: 'to be set',
  measured: 'as measured',
  recorded: 'as recorded',
};

/** Where a proposal stands. */
export function stateText({
  state,
  kept,
}: {
  readonly state: ProposalAnswer['state'];
  readonly kept: KeptAnswer['verdict'] | null;
}): string {
  if (state !== 'set') return state;
  return kept === null ? 'set' : KEPT_WORDS[kept];
}

const KEPT_WORDS: Readonly<Record<KeptAnswer['verdict'], string>> = {
  waiting: 'set; the next restart will show whether it is kept',
  kept: 'set, and kept at the restart after it',
  'not-kept': 'set, but not kept at the restart after it',
  'cannot-be-told': 'set; the restart after it can’t tell whether it is kept',
};

/** What the restart after it showed of each unit. */
export function keptTexts(kept: KeptAnswer, names: Names): string[] {
  const name = (id: string): string => names[id] ?? id;
  const late = ([low, high]: readonly [number, number]): string =>
    `${Math.round(low * 10) / 10} to ${Math.round(high * 10) / 10} s`.replaceAll('-', '−');
  return [
    ...kept.units.map(
      ({ unit, seen, allowed, verdict }) =>
        `${name(unit)} started ${seen ? late(seen) : 'at a time that isn’t known'} beside its setting; ${late(allowed)} is allowed${verdict === 'not-kept' ? ': not kept' : ''}.`,
    ),
    ...kept.together.map(([a, b]) => `${name(a!)} and ${name(b!)} started together all the same.`),
  ];
}
