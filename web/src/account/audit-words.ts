import { actionRow, ACTIONS, type Action } from '../../../shared/wire/may.ts';
import type { AuditAnswer } from '../../../shared/wire/account.ts';

/** What a row of the audit trail says, as a person would. */
const isAction = (text: string): text is Action => (ACTIONS as readonly string[]).includes(text);

export const actionWords = (action: string): string =>
  isAction(action) ? actionRow(action).does : action.replaceAll('-', ' ');

export function outcomeWords({ status }: Pick<AuditAnswer, 'status'>): string {
  if (status === null) return 'not answered';
  if (status < 300) return 'done';
  if (status === 401) return 'refused: not signed in';
  if (status === 403) return 'refused: not permitted';
  return status < 500 ? `refused (${status})` : `failed (${status})`;
}

export const actorWords = ({ actor }: Pick<AuditAnswer, 'actor'>): string =>
  actor.kind === 'nobody' ? 'Somebody not signed in' : actor.name;
