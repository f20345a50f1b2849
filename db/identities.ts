import type { Instant } from '../shared/base/instant.ts';
import { PERSON_COLUMNS, type PersonRow } from './people.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** People as a provider of identities knows them. */
export interface IdentityKey {
  readonly issuer: string;
  readonly subject: string;
}

const FIND = statement(
  'identities-find',
  `select ${PERSON_COLUMNS} from identities i join people p on p.id = i.person
   where i.issuer = $1 and i.subject = $2 and p.closed_at is null`,
);
export const findIdentity = (queries: Queries, { issuer, subject }: IdentityKey): Promise<PersonRow | null> =>
  queries.maybe<PersonRow>(FIND, [issuer, subject]);

const BIND = statement(
  'identities-bind',
  `with bound as (
     insert into identities (issuer, subject, person, created_at)
     select $1, $2, id, $4 from people where email = $3 and closed_at is null
     on conflict do nothing returning person
   ) select ${PERSON_COLUMNS} from people p join bound on bound.person = p.id`,
);
/** Binds the person who has that address; null: nobody has, or they are bound to another subject there already. */
export const bindIdentity = (
  queries: Queries,
  { issuer, subject }: IdentityKey,
  email: string,
  now: Instant,
): Promise<PersonRow | null> => queries.maybe<PersonRow>(BIND, [issuer, subject, email, timeParameter(now)]);
