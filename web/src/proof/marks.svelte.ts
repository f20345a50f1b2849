import { parseInstant, MILLISECOND } from '../../../shared/base/instant.ts';
import { MARK_KINDS, type MarkKind } from '../../../shared/proof/session.ts';
import type { MarkAsk } from '../../../shared/wire/proof-answer.ts';
import { serverClock } from '../net/server-clock.svelte.ts';
import { Outbox } from '../page/outbox.svelte.ts';
import type { Waiting } from '../page/waiting.ts';

/** Marks of a proof that wait to be sent, each with when it was pressed and how this device's clock stands to the server's. */
export interface WaitingMark extends Waiting {
  readonly site: string;
  readonly session: string;
  readonly kind: MarkKind;
  readonly on: string;
  readonly note: string;
  readonly clockAheadMs: number;
}

class ProofMarks extends Outbox<WaitingMark> {
  constructor() {
    super({
      key: 'proof-marks',
      read: readMarks,
      sent: ({ command, site, session, kind, on, note, saidAt, clockAheadMs }) => {
        const body: MarkAsk = { command, kind, on, note, saidAt, clockAheadMs };
        return {
          path: `/sites/${encodeURIComponent(site)}/proof/${encodeURIComponent(session)}/marks`,
          body,
        };
      },
    });
  }

  /** Answers why not; null: it is there, or waits to be sent. */
  mark(at: Pick<WaitingMark, 'site' | 'session' | 'kind' | 'on' | 'note'>): Promise<string | null> {
    const clockAheadMs = Math.round(Date.now() - serverClock.exactly() / MILLISECOND);
    return this.put((basis) => ({ ...basis, ...at, clockAheadMs }));
  }

  of(session: string): readonly WaitingMark[] {
    return this.own.filter((one) => one.session === session);
  }
}

function readMarks(text: string | null): WaitingMark[] {
  if (text === null) return [];
  try {
    const found: unknown = JSON.parse(text);
    return Array.isArray(found) ? found.filter(isMark) : [];
  } catch {
    return [];
  }
}

function isMark(one: unknown): one is WaitingMark {
  const mark = one as Partial<Record<keyof WaitingMark, unknown>> | null;
  return (
    typeof mark === 'object' &&
    mark !== null &&
    [mark.command, mark.person, mark.site, mark.session, mark.on, mark.note].every(
      (word) => typeof word === 'string',
    ) &&
    typeof mark.saidAt === 'string' &&
    parseInstant(mark.saidAt) !== null &&
    typeof mark.clockAheadMs === 'number' &&
    (MARK_KINDS as readonly unknown[]).includes(mark.kind)
  );
}

export const proofMarks = new ProofMarks();
