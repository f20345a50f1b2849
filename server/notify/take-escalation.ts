import { keepAcceptLink } from '../../db/accept-links.ts';
import { readUsableChannels } from '../../db/channels.ts';
import { claimEscalation, saveEscalation, type EscalationRow } from '../../db/escalations.ts';
import { addDelivery, keepNotice, readNotices, type MessageBody } from '../../db/notices.ts';
import { readPolicyOf } from '../../db/policies.ts';
import type { Database, Queries } from '../../db/pool.ts';
import { formatInstant, SECOND, type Instant } from '../../shared/base/instant.ts';
import { decideEscalation, type Message } from '../../shared/people/escalate.ts';
import type { Target } from '../../shared/people/escalation.ts';
import { mustGo, ORDINARY_NIGHT, type NeedsBy } from '../../shared/people/must-go.ts';
import type { NoticeFacts } from '../../shared/wire/notice-facts.ts';
import { mailText } from '../../shared/wire/notice-text.ts';
import { parsePolicy, type ParsedPolicy } from '../../shared/wire/on-call-document.ts';
import { shortNotice } from '../../shared/wire/short-notice.ts';
import { spokenNotice } from '../../shared/wire/spoken-notice.ts';
import { signLink } from './accept-link.ts';
import { AT_ONCE, drillBody, type DrillFacts } from './drill-message.ts';
import { readWhoIsOn } from './who-is-on.ts';

/**
 * Decides one escalation that is due, in one transaction: who is told what becomes rows, and the row says when to decide
 * again. Killed at any moment, either all of it is there or none.
 */
export interface Decider {
  readonly database: Database;
  readonly now: () => Instant;
  /** what there is to say about a root, and how long there is; null: there is no such alarm any more */
  readonly readFacts: (queries: Queries, alarm: string) => Promise<RootFacts | DrillFacts | null>;
  readonly linkKey: Buffer;
  /** where this server is reached from elsewhere, ending in a slash */
  readonly publicUrl: string;
}

export type RootFacts = Omit<NoticeFacts, 'urgency' | 'severity'> & { readonly needsBy: NeedsBy };

/** A link is good for as long as somebody may reasonably find the message. */
const LINK_LASTS = 24 * 3600 * SECOND;

export interface Taken {
  readonly alarm: string;
  readonly state: EscalationRow['state'];
  readonly messages: readonly Message[];
  /** people who were to be told and have no channel */
  readonly unreachable: readonly string[];
}

/** null: none is due. */
export function takeEscalation(decider: Decider): Promise<Taken | null> {
  return decider.database.transaction({ name: 'escalate' }, async (queries) => {
    const now = decider.now();
    const row = await claimEscalation(queries, now);
    if (row === null) return null;
    const facts = await decider.readFacts(queries, row.alarm);
    if (facts === null) {
      await saveEscalation(queries, { ...row, state: 'over', dueAt: null, setAt: now });
      return { alarm: row.alarm, state: 'over', messages: [], unreachable: [] };
    }
    return take(queries, decider, { row, facts, now });
  });
}

interface Case {
  readonly row: EscalationRow;
  readonly facts: RootFacts | DrillFacts;
  readonly now: Instant;
}

async function take(queries: Queries, decider: Decider, { row, facts, now }: Case): Promise<Taken> {
  const parsed = policyOf((await readPolicyOf(queries, row.site))?.document);
  const needsBy: NeedsBy = 'kind' in facts ? { kind: 'not-needed', says: AT_ONCE.says } : facts.needsBy;
  const urgency =
    'kind' in facts
      ? AT_ONCE
      : mustGo(row.severity, needsBy, { ...(parsed?.night ?? ORDINARY_NIGHT), zone: facts.zone }, now);
  const isOn = await readWhoIsOn(queries, targetsOf(parsed), now);
  const { next, messages } = decideEscalation(row, {
    policy: parsed?.policy ?? null,
    urgency,
    needsBy,
    notices: await readNotices(queries, row.alarm),
    resolve: (targets) => [...new Set(targets.flatMap(isOn))],
    now,
  });
  const whole = 'kind' in facts ? facts : noticeFacts(facts, { urgency, severity: row.severity });
  const unreachable = await writeMessages(queries, decider, { row, next, facts: whole, messages, now });
  await saveEscalation(queries, { ...row, ...next });
  return { alarm: row.alarm, state: next.state, messages, unreachable };
}

const noticeFacts = (
  { needsBy: _, ...told }: RootFacts,
  as: Pick<NoticeFacts, 'urgency' | 'severity'>,
): NoticeFacts => ({ ...told, ...as });

/** A document that was checked when it came in and doesn't fit any more tells nobody: it counts as none. */
function policyOf(document: unknown): ParsedPolicy | null {
  if (document === undefined) return null;
  const parsed = parsePolicy(document);
  return parsed.ok ? parsed.value : null;
}

const targetsOf = (parsed: ParsedPolicy | null): Target[] =>
  parsed === null
    ? []
    : [...parsed.policy.steps.flatMap(({ targets }) => targets), ...parsed.policy.fallback];

interface Telling {
  readonly row: EscalationRow;
  readonly next: Pick<EscalationRow, 'severity' | 'cleared' | 'owner'>;
  readonly facts: NoticeFacts | DrillFacts;
  readonly messages: readonly Message[];
  readonly now: Instant;
}

/** A row for each message and channel. Answers who has none. */
async function writeMessages(queries: Queries, decider: Decider, telling: Telling): Promise<string[]> {
  const { row, next, facts, messages, now } = telling;
  const people = messages.map(({ person }) => person).filter(isPersonId);
  const channels = await readUsableChannels(queries, people);
  const unreachable: string[] = [];
  for (const { person, reason } of messages) {
    if (!isPersonId(person)) continue; // an owner who is no person of ours: this machine, a program
    const told = { severity: next.severity, cleared: next.cleared, owner: next.owner };
    const notice = await keepNotice(queries, row.alarm, person, told, now);
    const own = channels.filter((channel) => channel.person === person);
    if (own.length === 0) unreachable.push(person);
    const body = await bodyOf(queries, decider, { alarm: row.alarm, person, reason, facts, now });
    for (const { id } of own) {
      const message = `${reason}:${formatInstant(now)}`;
      await addDelivery(queries, { notice, channel: id, message, reason, body }, now);
    }
  }
  return unreachable;
}

const isPersonId = (text: string): boolean => /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/.test(text);

interface OneMessage extends Message {
  readonly alarm: string;
  readonly facts: NoticeFacts | DrillFacts;
  readonly now: Instant;
}

/** Written once, so that a repeat is the same message. */
async function bodyOf(queries: Queries, decider: Decider, message: OneMessage): Promise<MessageBody> {
  const { alarm, person, reason, facts, now } = message;
  const number = await keepAcceptLink(queries, alarm, person, now + LINK_LASTS);
  const link = `${decider.publicUrl}a/${signLink(decider.linkKey, number)}`;
  if ('kind' in facts)
    return drillBody(facts, alarm, { link, page: `${decider.publicUrl}sites/${facts.site.id}/proof` });
  const mayAccept = reason !== 'cleared' && reason !== 'taken';
  const page = `${decider.publicUrl}alarms/${encodeURIComponent(alarm)}`;
  const { subject, text } = mailText(facts, reason, { accept: mayAccept ? link : null, alarm: page });
  return {
    subject,
    text,
    short: shortNotice(facts, reason, link),
    spoken: spokenNotice(facts, reason),
    data: {
      alarm,
      site: facts.site.id,
      device: facts.device?.id ?? null,
      kind: facts.event.kind,
      cause: facts.event.cause,
      severity: facts.severity,
      urgency: facts.urgency.answer,
      says: facts.urgency.says,
      since: formatInstant(facts.event.start.latest),
      url: page,
    },
  };
}
