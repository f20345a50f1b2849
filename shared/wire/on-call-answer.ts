import Type, { type Static } from 'typebox';
import { DocumentName, PolicyDocument, RosterDocument } from './on-call-document.ts';
import { choice, Id, IsoInstant, nullable } from './schema.ts';

/** Who is on call, rosters, policies, channels and deliveries, as they cross the wire. People go by their ids. */
const PersonName = Type.Object({ id: Type.String(), name: Type.String() });

export const Turn = Type.Object({
  from: IsoInstant,
  to: IsoInstant,
  /** null: nobody, a gap */
  person: nullable(Type.String()),
  by: nullable(Type.String()),
});
export type Turn = Static<typeof Turn>;

const RosterNow = Type.Object({
  id: Id,
  name: Type.String(),
  zone: Type.String(),
  person: nullable(Type.String()),
  until: nullable(IsoInstant),
  next: nullable(Type.String()),
  /** of the next 30 days */
  gaps: Type.Array(Turn),
});

export const EscalationAnswer = Type.Object({
  alarm: Id,
  site: Type.String(),
  severity: choice('critical', 'major', 'minor'),
  state: choice('held', 'paging', 'owned', 'exhausted', 'over'),
  startedAt: IsoInstant,
  dueAt: nullable(IsoInstant),
  owner: nullable(Type.String()),
  place: nullable(choice('accepted', 'on-site')),
});
export type EscalationAnswer = Static<typeof EscalationAnswer>;

export const OnCallAnswer = Type.Object({
  rosters: Type.Array(RosterNow),
  escalations: Type.Array(EscalationAnswer),
  people: Type.Array(PersonName),
  /** what keeps people from being told, in words, and what else messages lack */
  warnings: Type.Array(Type.String()),
  /** those of them that have to be mended before an alarm reaches anybody */
  hindrances: Type.Array(Type.String()),
  serverTime: IsoInstant,
});
export type OnCallAnswer = Static<typeof OnCallAnswer>;

export const RosterAsk = Type.Object({ name: DocumentName, document: RosterDocument });

const OverrideAnswer = Type.Object({
  id: Id,
  from: IsoInstant,
  to: IsoInstant,
  person: Type.String(),
  why: Type.String(),
  madeBy: Type.String(),
});

export const RosterAnswer = Type.Object({
  id: Id,
  name: Type.String(),
  document: RosterDocument,
  changedAt: IsoInstant,
  changedBy: Type.String(),
  turns: Type.Array(Turn),
  overrides: Type.Array(OverrideAnswer),
  /** address of its iCalendar feed, which asks for no sign-in */
  feed: Type.String(),
});
export type RosterAnswer = Static<typeof RosterAnswer>;

export const OverrideAsk = Type.Object({
  from: IsoInstant,
  to: IsoInstant,
  person: Id,
  why: Type.Optional(Type.String({ maxLength: 500 })),
});

/** two turns, each by an instant within it */
export const SwapAsk = Type.Object({
  one: IsoInstant,
  other: IsoInstant,
  why: Type.Optional(Type.String({ maxLength: 500 })),
});

/** an iCalendar file */
export const HolidaysAsk = Type.Object({ calendar: Type.String({ maxLength: 1_000_000 }) });
export const HolidaysAnswer = Type.Object({ days: Type.Array(Type.String()) });

export const PolicyAsk = Type.Object({
  name: DocumentName,
  document: PolicyDocument,
  isDefault: Type.Boolean(),
  sites: Type.Array(Type.String({ maxLength: 63 }), { maxItems: 1000 }),
});

export const PolicyAnswer = Type.Object({
  id: Id,
  name: Type.String(),
  document: PolicyDocument,
  isDefault: Type.Boolean(),
  sites: Type.Array(Type.String()),
  changedAt: IsoInstant,
  changedBy: Type.String(),
  /** seconds from its start at which pages go out, and when it is exhausted */
  pages: Type.Array(Type.Number()),
  exhausted: Type.Number(),
});
export type PolicyAnswer = Static<typeof PolicyAnswer>;
export const PolicyList = Type.Object({ items: Type.Array(PolicyAnswer), cursor: Type.Null() });

const CHANNEL_KINDS = ['e-mail', 'webhook', 'short-message', 'web-push', 'voice'] as const;

export const ChannelAsk = Type.Object({
  kind: choice(...CHANNEL_KINDS),
  address: Type.String({ minLength: 3, maxLength: 2000 }),
  /** of a device: its keys as its browser gives them, and what its person knows it by */
  keys: Type.Optional(
    Type.Object({ p256dh: Type.String({ maxLength: 100 }), auth: Type.String({ maxLength: 40 }) }),
  ),
  label: Type.Optional(Type.String({ minLength: 1, maxLength: 100 })),
});
export type ChannelAsk = Static<typeof ChannelAsk>;

export const ChannelAnswer = Type.Object({
  id: Id,
  kind: choice(...CHANNEL_KINDS),
  address: Type.String(),
  label: nullable(Type.String()),
  verifiedAt: nullable(IsoInstant),
  disabledAt: nullable(IsoInstant),
  disabledWhy: nullable(Type.String()),
  /** of a webhook, and only in the answer that makes it */
  secret: Type.Optional(Type.String()),
});
export type ChannelAnswer = Static<typeof ChannelAnswer>;

export const DeliveryAnswer = Type.Object({
  id: Id,
  alarm: nullable(Type.String()),
  kind: choice(...CHANNEL_KINDS),
  address: Type.String(),
  reason: Type.String(),
  state: choice('waiting', 'accepted', 'given-up', 'overtaken'),
  attempts: Type.Integer(),
  madeAt: IsoInstant,
  dueAt: IsoInstant,
  endedAt: nullable(IsoInstant),
  answer: nullable(Type.String()),
});
export type DeliveryAnswer = Static<typeof DeliveryAnswer>;

export const ChannelList = Type.Object({
  items: Type.Array(ChannelAnswer),
  cursor: Type.Null(),
  /** kinds that this server can send */
  kinds: Type.Array(choice(...CHANNEL_KINDS)),
  /** what browsers subscribe this device with: base64url of a P-256 point */
  pushKey: Type.String(),
  deliveries: Type.Array(DeliveryAnswer),
});
export type ChannelList = Static<typeof ChannelList>;
