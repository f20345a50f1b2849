import type { ProofItem, Todo, Verdict } from './session.ts';

/** May whoever is there leave: the first line of the page (issue 7). */
export interface Drill {
  /** `nobody`: sent, and nobody is left to be told */
  readonly state: 'none' | 'sent' | 'answered' | 'nobody';
  /** in the site’s wall time */
  readonly answeredAt: string | null;
}

export interface Counts {
  readonly proven: number;
  readonly cannotProvoke: number;
  readonly contradicted: number;
  readonly leftOut: number;
  readonly notYet: number;
}

export interface Leaving {
  readonly mayLeave: boolean;
  readonly says: string;
  readonly counts: Counts;
  /** what is still to be done, shortest first */
  readonly todo: readonly (Todo & { readonly items: readonly string[] })[];
}

function countsOf(items: readonly ProofItem[]): Counts {
  const count = (grade: ProofItem['grade']): number => items.filter((item) => item.grade === grade).length;
  return {
    proven: count('proven'),
    cannotProvoke: count('cannot-provoke'),
    contradicted: count('contradicted'),
    leftOut: count('left-out'),
    notYet: count('not-yet'),
  };
}

export function leavingOf({ items, faults }: Verdict, drill: Drill): Leaving {
  const counts = countsOf(items);
  const todo = todoOf(items, drill);
  const first = faults.map(({ says }) => says.replace(/\.$/, ''));
  const rest = todo.map(({ says }) => says.replace(/\.$/, ''));
  if (first.length === 0 && counts.contradicted === 0 && todo.length === 0)
    return { mayLeave: true, says: mayLeave(counts, drill), counts, todo };
  const all = [...first, ...rest];
  const more = all.length > 1 ? ` And ${all.length - 1} more.` : '';
  const what = all[0] ?? `${counts.contradicted} contradict`;
  return { mayLeave: false, says: `Don’t leave yet: ${what}.${more}`, counts, todo };
}

function mayLeave({ proven, cannotProvoke, contradicted, leftOut }: Counts, { answeredAt }: Drill): string {
  const parts = [
    `${proven} proven`,
    `${cannotProvoke} can’t be provoked safely`,
    ...(leftOut > 0 ? [`${leftOut} left out`] : []),
    `${contradicted} contradict`,
  ];
  return `You may leave: ${parts.join(', ')}; test notice answered ${answeredAt ?? ''}.`;
}

const DRILL: Readonly<Record<Drill['state'], Todo | null>> = {
  none: { says: 'Send the TEST notice and have it answered.', seconds: 120, qualified: false },
  sent: { says: 'Wait until the TEST notice is answered.', seconds: 90, qualified: false },
  answered: null,
  nobody: {
    says: 'Nobody is told of this site’s alarms: put its on-call right and send the TEST notice again.',
    seconds: 600,
    qualified: false,
  },
};

/** One thing to do may serve several points. */
function todoOf(items: readonly ProofItem[], { state }: Drill): Leaving['todo'] {
  const found = new Map<string, Todo & { items: string[] }>();
  for (const { key, todo } of items) {
    if (!todo) continue;
    const before = found.get(todo.says);
    if (before) before.items.push(key);
    else found.set(todo.says, { ...todo, items: [key] });
  }
  const drill = DRILL[state];
  if (drill) found.set(drill.says, { ...drill, items: ['drill'] });
  return [...found.values()].sort((a, b) => a.seconds - b.seconds || (a.says < b.says ? -1 : 1));
}
