import { randomUUID } from 'node:crypto';
import { readAcceptLink, type AcceptLinkRow } from '../../db/accept-links.ts';
import { ownEscalation, readEscalation, type EscalationRow } from '../../db/escalations.ts';
import { askSite } from '../alarms/ask.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';
import { answerTest } from '../proof/drill.ts';
import { readLink } from './accept-link.ts';
import { isDrill } from './drill-message.ts';

/** What a link in a message leads to, and what pressing its button does. Looking changes nothing (handbook 7). */
export type Link =
  | { readonly kind: 'wrong' }
  | { readonly kind: 'expired' }
  | { readonly kind: 'good'; readonly row: AcceptLinkRow; readonly escalation: EscalationRow };

export async function readLinkOf(service: Service, text: string): Promise<Link> {
  const number = readLink(service.notices.linkKey, text);
  if (number === null) return { kind: 'wrong' };
  return inSnapshot(service.database, async (queries) => {
    const row = await readAcceptLink(queries, number);
    if (row === null) return { kind: 'wrong' };
    if (row.expiresAt <= service.now()) return { kind: 'expired' };
    const escalation = await readEscalation(queries, row.alarm);
    return escalation === null ? { kind: 'wrong' } : { kind: 'good', row, escalation };
  });
}

/**
 * Acknowledge plus ownership, for exactly this alarm and by exactly this person. Again is the same; where somebody else has
 * acknowledged it before, this takes it over. False: its site's alarms are being decided on for too long.
 */
export async function acceptBy(
  service: Service,
  { row, escalation }: Extract<Link, { kind: 'good' }>,
): Promise<boolean> {
  const { alarm, person, personName: by } = row;
  const at = service.now();
  if (isDrill(alarm)) {
    await service.database.transaction({ name: 'answer-test' }, (queries) =>
      answerTest(queries, alarm, by, at),
    );
    service.alarmsChanged();
    return true;
  }
  const asked = { kind: 'accept', by, person, at } as const;
  const command = { id: randomUUID(), kind: 'alarm', alarm, asked } as const;
  const outcome = await askSite(service, escalation.site, { command, by, at });
  if (outcome === null) return false;
  await service.database.transaction({ name: 'accept' }, async (queries) => {
    const now = await readEscalation(queries, alarm);
    if (now?.owner === person) return;
    await ownEscalation(queries, { alarm, owner: person, place: 'accepted' }, service.now());
  });
  service.alarmsChanged();
  return true;
}
