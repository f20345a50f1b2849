import { SECOND } from '../../../shared/base/instant.ts';
import { readInstant } from '../../../shared/wire/standing-wire.ts';
import type { VisitAnswer } from '../../../shared/wire/visit-answer.ts';
import type { Stage } from './stage.ts';
import type { Wish, WishPath } from './wish.ts';

/**
 * What the bar at the bottom offers, the next thing first. What waits to be sent isn't offered again, and what comes after it
 * already is: without a connection one goes on; nothing of it looks done for that.
 */
export interface Press {
  readonly says: string;
  readonly path: WishPath | 'form';
  readonly body: Wish['body'];
}

const step = (says: string, name: string, more: Wish['body'] = {}): Press => ({
  says,
  path: 'step',
  body: { step: name, ...more },
});

export function barOf(
  visit: VisitAnswer,
  stage: Stage,
  waiting: readonly Wish[],
  units: readonly string[],
): Press[] {
  const unsent = waiting.filter(({ refused }) => refused === null);
  const at = stageAfter(stage, unsent);
  const onSite = step('On site', 'on-site', units.length > 0 ? { units: [...units] } : {});
  const isClosing = unsent.some(({ path }) => path === 'close');
  switch (at) {
    case 'free':
      return [{ says: 'Accept', path: 'accept', body: {} }];
    case 'theirs':
      return [{ says: `Take over from ${visit.alarm.owner}`, path: 'accept', body: {} }];
    case 'mine':
      return [step('On my way', 'on-my-way'), onSite];
    case 'on-my-way':
      return [onSite, step('Not going', 'left')];
    case 'on-site':
      return [
        ...(isEnding(visit, unsent) ? [{ ...onSite, says: 'Still here' }] : []),
        ...(isClosing ? [] : nextThere(visit, unsent)),
        step('I leave', 'left'),
      ];
    case 'hidden':
    case 'over':
      return [];
  }
}

/** Before this the question whether somebody is still there isn't worth a press [from memory]. */
const SOON = 30 * 60 * SECOND;

/** Work lasts two hours and is renewed by saying that one is still there (handbook 7). */
function isEnding({ works, units, serverTime }: VisitAnswer, unsent: readonly Wish[]): boolean {
  if (units.length === 0 || unsent.some(({ body }) => body['step'] === 'on-site')) return false;
  const soon = readInstant(serverTime) + SOON;
  return works.every(({ until }) => readInstant(until) <= soon);
}

/** On site: findings first, then closing with them where there is something to close. */
function nextThere({ alarm, findings }: VisitAnswer, unsent: readonly Wish[]): Press[] {
  const written = unsent.findLast(({ path }) => path === 'findings');
  const action = written ? String(written.body['action']) : findings.at(-1)?.action;
  const form: Press = { says: action ? 'More findings' : 'Findings', path: 'form', body: {} };
  if (!action || alarm.active || !alarm.latched) return [form];
  return [{ says: 'Close', path: 'close', body: { reason: reasonOf(action) } }, form];
}

/** A reason for closing has 3 to 1,000 characters. */
const reasonOf = (action: string): string => (action.length < 3 ? `done: ${action}` : action.slice(0, 1000));

function stageAfter(stage: Stage, unsent: readonly Wish[]): Stage {
  let at = stage;
  for (const { path, body } of unsent) {
    if (path === 'accept' && (at === 'free' || at === 'theirs')) at = 'mine';
    if (path !== 'step') continue;
    if (body['step'] === 'on-my-way') at = 'on-my-way';
    if (body['step'] === 'on-site') at = 'on-site';
    if (body['step'] === 'left') at = 'hidden';
  }
  return at;
}
