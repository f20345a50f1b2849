import Type, { type Static } from 'typebox';
import { Uuid } from './account.ts';
import { REFUSAL_WHYS } from './gateway-refusals.ts';
import { choice, Id, IsoInstant, nullable } from './schema.ts';

/** What the server and the page say to each other about gateways at the broker: credentials, topics, and who was turned away. */
const CredentialKind = choice('password', 'certificate');

export const CredentialAnswer = Type.Object({
  id: Uuid,
  kind: CredentialKind,
  /** of a certificate: the common name of its subject */
  username: Type.String(),
  /** of a certificate: SHA-256 of its DER, in hex */
  fingerprint: nullable(Type.String()),
  madeAt: IsoInstant,
  madeBy: Type.String(),
  /** null: it has no end */
  endsAt: nullable(IsoInstant),
  revokedAt: nullable(IsoInstant),
  usedAt: nullable(IsoInstant),
  usedFrom: nullable(Type.String()),
  /** `ended`: a certificate that has expired, or what has given way to a newer one */
  state: choice('valid', 'ended', 'revoked'),
});
export type CredentialAnswer = Static<typeof CredentialAnswer>;

const GatewayAnswer = Type.Object({
  id: Id,
  publish: Type.Array(Type.String()),
  subscribe: Type.Array(Type.String()),
  withheld: Type.Array(Type.Object({ filter: Type.String(), why: Type.String() })),
  credentials: Type.Array(CredentialAnswer),
  /** a topic and a value to try it with; null: no point of this gateway is published below the root */
  example: nullable(Type.Object({ topic: Type.String(), payload: Type.String() })),
});
export type GatewayAnswer = Static<typeof GatewayAnswer>;

const RefusalAnswer = Type.Object({
  why: choice(...REFUSAL_WHYS),
  /** '': none was given */
  username: Type.String(),
  address: Type.String(),
  client: Type.String(),
  /** of the last one: a topic, or what went wrong */
  detail: Type.String(),
  firstAt: IsoInstant,
  lastAt: IsoInstant,
  times: Type.Integer({ minimum: 1 }),
});
export type RefusalAnswer = Static<typeof RefusalAnswer>;

export const GatewayAccess = Type.Object({
  name: Type.String(),
  timeZone: Type.String(),
  broker: Type.Object({
    kind: choice('embedded', 'external'),
    /** null: the name of the server that answers */
    host: nullable(Type.String()),
    port: Type.Integer(),
    isTls: Type.Boolean(),
  }),
  gateways: Type.Array(GatewayAnswer),
  /** of this site's users; for whoever may look at every site, also of users that nobody knows */
  refusals: Type.Array(RefusalAnswer),
});
export type GatewayAccess = Static<typeof GatewayAccess>;

/** How long the one that gives way may still be used. */
export const OVERLAP_HOURS = { least: 0, usual: 168, most: 2160 } as const;

export const CredentialAsk = Type.Object(
  {
    kind: CredentialKind,
    /** PEM; for `certificate` */
    certificate: Type.Optional(Type.String({ minLength: 1, maxLength: 16_384 })),
    /** one of this gateway's that gives way to it */
    replaces: Type.Optional(Uuid),
    overlapHours: Type.Optional(Type.Integer({ minimum: OVERLAP_HOURS.least, maximum: OVERLAP_HOURS.most })),
  },
  { additionalProperties: false },
);
export type CredentialAsk = Static<typeof CredentialAsk>;

/** The only time that the password is told; null: there is none. */
export const CredentialMade = Type.Object({
  credential: CredentialAnswer,
  password: nullable(Type.String()),
});
export type CredentialMade = Static<typeof CredentialMade>;

/** What a Mosquitto is given: its password file, its access file, the certificates, and when they next change by themselves. */
export const MosquittoFiles = Type.Object({
  passwords: Type.String(),
  access: Type.String(),
  certificates: Type.String(),
  nextChangeAt: nullable(IsoInstant),
});
export type MosquittoFiles = Static<typeof MosquittoFiles>;
