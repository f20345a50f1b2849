import Type, { type Static } from 'typebox';
import { ROLES } from './may.ts';
import { choice, Id, IsoInstant, nullable } from './schema.ts';

/** What the server and the page say to each other about accounts: people, sessions, tokens, links, the audit trail. */

const Role = choice(...ROLES);
/** null: every site, also those that are made later */
const ScopeOfSites = nullable(Type.Array(Type.String({ maxLength: 63 }), { maxItems: 1000 }));
/** a line of text: begins with something to be seen, and nothing in it would break a header or a log */
const PersonName = Type.String({
  maxLength: 100,
  pattern: '^[^\\s\\u0000-\\u001f\\u007f][^\\u0000-\\u001f\\u007f\\u2028\\u2029]*$',
});
const Email = Type.String({ minLength: 3, maxLength: 254 });
const GivenPassword = Type.String({ minLength: 1, maxLength: 1000 });
/** 256 bits in base64url */
const Secret = Type.String({ minLength: 1, maxLength: 200 });
export const Uuid = Type.String({
  pattern: '^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$',
});

export const ActorAnswer = Type.Object({
  kind: choice('person', 'token', 'machine'),
  id: Id,
  name: Type.String(),
  role: Role,
  sites: ScopeOfSites,
});
export type ActorAnswer = Static<typeof ActorAnswer>;

const signedIn = {
  /** null: not signed in */
  actor: nullable(ActorAnswer),
  email: nullable(Type.String()),
  /** is there an administrator: until then whoever sits at this machine is let in */
  isSetUp: Type.Boolean(),
  /** the first administrator may be set up by whoever asks, with the bootstrap token, or not from here */
  firstAdministrator: nullable(choice('here', 'with-token', 'not-from-here')),
};
/** Who asks. */
export const SignedInAnswer = Type.Object(signedIn);
export type SignedInAnswer = Static<typeof SignedInAnswer>;
/** Who asks, and how one gets in; `provider`: the name of the organisation's own way in, null: there is none. */
export const AccountAnswer = Type.Object({ ...signedIn, provider: nullable(Type.String()) });
export type AccountAnswer = Static<typeof AccountAnswer>;

export const FirstAdministrator = Type.Object(
  { name: PersonName, email: Email, password: GivenPassword },
  { additionalProperties: false },
);
export const SignIn = Type.Object({ email: Email, password: GivenPassword }, { additionalProperties: false });
export const PasswordChange = Type.Object(
  { current: GivenPassword, password: GivenPassword },
  { additionalProperties: false },
);
export const LinkLook = Type.Object({ secret: Secret }, { additionalProperties: false });
export const LinkUse = Type.Object(
  { secret: Secret, password: GivenPassword },
  { additionalProperties: false },
);

const Purpose = choice('invitation', 'password-reset');
export const LinkAnswer = Type.Object({
  purpose: Purpose,
  name: Type.String(),
  email: Type.String(),
  expiresAt: IsoInstant,
});
export type LinkAnswer = Static<typeof LinkAnswer>;

const SessionAnswer = Type.Object({
  id: Uuid,
  /** the one that asks */
  isThis: Type.Boolean(),
  createdAt: IsoInstant,
  seenAt: IsoInstant,
  endsAt: IsoInstant,
  address: Type.String(),
  browser: Type.String(),
});
export type SessionAnswer = Static<typeof SessionAnswer>;
export const SessionList = Type.Object({ items: Type.Array(SessionAnswer), cursor: Type.Null() });

export const TokenAsk = Type.Object(
  {
    name: PersonName,
    role: Role,
    sites: ScopeOfSites,
    days: Type.Integer({ minimum: 1, maximum: 366 }),
  },
  { additionalProperties: false },
);
export type TokenAsk = Static<typeof TokenAsk>;
export const TokenAnswer = Type.Object({
  id: Uuid,
  name: Type.String(),
  role: Role,
  sites: ScopeOfSites,
  createdAt: IsoInstant,
  expiresAt: IsoInstant,
  usedAt: nullable(IsoInstant),
});
export type TokenAnswer = Static<typeof TokenAnswer>;
export const TokenList = Type.Object({ items: Type.Array(TokenAnswer), cursor: Type.Null() });
/** the only time that the token itself is told */
export const TokenMade = Type.Object({ token: TokenAnswer, secret: Secret });
export type TokenMade = Static<typeof TokenMade>;

export const PersonAsk = Type.Object(
  { name: PersonName, email: Email, role: Role, sites: ScopeOfSites },
  { additionalProperties: false },
);
export type PersonAsk = Static<typeof PersonAsk>;
export const PersonChange = Type.Object(
  { name: PersonName, role: Role, sites: ScopeOfSites, isClosed: Type.Boolean() },
  { additionalProperties: false },
);
export type PersonChange = Static<typeof PersonChange>;
export const PersonAnswer = Type.Object({
  id: Uuid,
  name: Type.String(),
  email: Type.String(),
  role: Role,
  sites: ScopeOfSites,
  createdAt: IsoInstant,
  /** null: may sign in */
  closedAt: nullable(IsoInstant),
  /** has chosen a password */
  hasPassword: Type.Boolean(),
  seenAt: nullable(IsoInstant),
});
export type PersonAnswer = Static<typeof PersonAnswer>;
export const PersonList = Type.Object({
  items: Type.Array(PersonAnswer),
  cursor: nullable(Type.String()),
});
export type PersonList = Static<typeof PersonList>;

/** a link that lets its person choose a password: told once, to be handed over */
export const LinkMade = Type.Object({ purpose: Purpose, secret: Secret, expiresAt: IsoInstant });
export type LinkMade = Static<typeof LinkMade>;
export const PersonMade = Type.Object({ person: PersonAnswer, link: LinkMade });
export type PersonMade = Static<typeof PersonMade>;

export const AuditAnswer = Type.Object({
  id: Type.String(),
  at: IsoInstant,
  actor: Type.Object({
    kind: choice('person', 'token', 'machine', 'nobody'),
    id: Type.String(),
    name: Type.String(),
  }),
  address: Type.String(),
  action: Type.String(),
  method: Type.String(),
  path: Type.String(),
  site: nullable(Type.String()),
  detail: Type.Unknown(),
  /** HTTP's; null: it was never answered */
  status: nullable(Type.Integer()),
});
export type AuditAnswer = Static<typeof AuditAnswer>;
export const AuditList = Type.Object({ items: Type.Array(AuditAnswer), cursor: nullable(Type.String()) });
export type AuditList = Static<typeof AuditList>;
