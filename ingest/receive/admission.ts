import { timingSafeEqual } from 'node:crypto';
import {
  findCertificate,
  findCredential,
  noteUse,
  readFallen,
  type CredentialRow,
} from '../../db/gateway-credentials.ts';
import { isKeptPassword, newPassword } from '../../db/kept-password.ts';
import type { Database } from '../../db/pool.ts';
import { instantFromMilliseconds, type Instant } from '../../shared/base/instant.ts';
import type { RefusalWhy } from '../../shared/wire/gateway-refusals.ts';
import type { Entrance } from './entrance.ts';

/** Who is at the door of the embedded broker: somebody of this machine, who may everything, or a gateway, who may its own. */
export type Principal =
  | { readonly kind: 'machine' }
  | ({ readonly kind: 'gateway'; readonly credential: string; readonly username: string } & GatewayOf);

export interface GatewayOf {
  readonly site: string;
  readonly gateway: string;
}

export type Admitted =
  | { readonly ok: true; readonly principal: Principal }
  | { readonly ok: false; readonly why: RefusalWhy; readonly detail: string };

export interface Given {
  readonly username: string | null;
  readonly password: Buffer | null;
}

export interface AdmissionOptions {
  readonly database: Database;
  /** on the loopback port whoever gives no user is let in */
  readonly anonymous: boolean;
  readonly now: () => Instant;
}

/** What parts of this very process show themselves by: made anew at each start and written nowhere. */
export const OWN_USER = 'holdoff-itself';

export class Admission {
  readonly ownPassword = newPassword();
  readonly #options: AdmissionOptions;

  constructor(options: AdmissionOptions) {
    this.#options = options;
  }

  /** Looks at what was given. Throws where the database can't be asked: nobody is refused for that, nobody let in. */
  async ask(entrance: Entrance, { username, password }: Given): Promise<Admitted> {
    if (username === OWN_USER) return this.#itself(entrance, password);
    if (entrance.certificate !== null) {
      const shown = await this.#byCertificate(entrance);
      if (shown.ok || username === null || shown.why !== 'certificate-unknown') return shown;
    }
    if (username !== null) return this.#byPassword(entrance, username, password);
    if (entrance.isPlain && this.#options.anonymous) return MACHINE;
    return refused('no-credentials');
  }

  /** Which of these may stay no longer. */
  fallen(credentials: readonly string[]): Promise<ReadonlySet<string>> {
    return readFallen(this.#options.database, credentials, this.#options.now());
  }

  #itself({ isPlain }: Entrance, password: Buffer | null): Admitted {
    const own = Buffer.from(this.ownPassword);
    const isOwn = isPlain && password?.length === own.length && timingSafeEqual(own, password);
    return isOwn ? MACHINE : refused('wrong-password');
  }

  async #byCertificate(entrance: Entrance): Promise<Admitted> {
    const { fingerprint, subject, from, until } = entrance.certificate!;
    const now = this.#options.now();
    if (now >= instantFromMilliseconds(until)) return refused('certificate-expired', subject);
    if (now < instantFromMilliseconds(from)) return refused('certificate-not-yet', subject);
    const row = await findCertificate(this.#options.database, fingerprint);
    if (row === null) return refused('certificate-unknown', subject);
    return this.#standing(row, entrance);
  }

  async #byPassword(entrance: Entrance, username: string, password: Buffer | null): Promise<Admitted> {
    const row =
      username.length <= LONGEST_USER ? await findCredential(this.#options.database, username) : null;
    const isRight = await isKeptPassword(row?.secret ?? null, password ?? Buffer.alloc(0));
    if (row === null) return refused('unknown-user');
    if (row.kind === 'certificate') return refused('takes-certificate');
    return isRight ? this.#standing(row, entrance) : refused('wrong-password');
  }

  async #standing(row: CredentialRow, { address }: Entrance): Promise<Admitted> {
    const { id, site, gateway, username, revokedAt, endsAt } = row;
    const now = this.#options.now();
    if (revokedAt !== null) return refused('revoked');
    if (endsAt !== null && endsAt <= now) return refused('ended');
    await noteUse(this.#options.database, id, now, address);
    return { ok: true, principal: { kind: 'gateway', credential: id, username, site, gateway } };
  }
}

const LONGEST_USER = 128;
const MACHINE: Admitted = { ok: true, principal: { kind: 'machine' } };
const refused = (why: RefusalWhy, detail = ''): Admitted => ({ ok: false, why, detail });
