import type { IncomingHttpHeaders } from 'node:http';
import { may } from '../../shared/wire/may.ts';
import { SAYS, type Accounts, type Asked, type Asker } from '../accounts/accounts.ts';
import { isForwarded } from '../http/access.ts';
import { sessionIn } from '../http/cookie.ts';

/**
 * Who is on the live socket. Let in as over HTTP; and looked at again, for a socket lasts longer than a session may: one whose
 * session has ended, whose token is revoked or whose rights are other now is parted, and comes back with what still holds.
 */
export interface Admitted {
  asker: Asker;
}

interface AdmittedClient {
  readonly handshake: {
    readonly auth: Record<string, unknown>;
    readonly headers: IncomingHttpHeaders;
    readonly address: string;
  };
  readonly data: Admitted;
  disconnect(close: true): unknown;
}

const LOOK_AGAIN_MS = 10_000;

/** undefined: let in. */
export async function letIn(accounts: Accounts, client: AdmittedClient): Promise<Error | undefined> {
  const admission = await accounts.admit(askedBy(client));
  if (!('asker' in admission)) return new Error(SAYS[admission.why]);
  if (!may(admission.asker.actor, 'see-sites')) return new Error(SAYS['sign-in']);
  client.data.asker = admission.asker;
  return undefined;
}

export function watchAdmitted(
  accounts: Accounts,
  clients: () => readonly AdmittedClient[],
  failed: (error: unknown) => void,
): { stop(): Promise<void> } {
  let running = Promise.resolve();
  const look = async () => {
    for (const client of clients()) {
      const admission = await accounts.admit(askedBy(client));
      const same = 'asker' in admission && isSameActor(admission.asker, client.data.asker);
      if (!same) client.disconnect(true);
    }
  };
  const timer = setInterval(() => (running = running.then(look).catch(failed)), LOOK_AGAIN_MS);
  timer.unref();
  return {
    stop() {
      clearInterval(timer);
      return running;
    },
  };
}

const isSameActor = (a: Asker, b: Asker): boolean => JSON.stringify(a.actor) === JSON.stringify(b.actor);

function askedBy({ handshake }: AdmittedClient): Asked {
  const { auth, headers, address } = handshake;
  const token = auth['token'];
  return {
    authorization: typeof token === 'string' ? `Bearer ${token}` : headers.authorization,
    session: sessionIn(headers.cookie, headers.host),
    address,
    host: headers.host,
    isForwarded: isForwarded(headers),
  };
}
