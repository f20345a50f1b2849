import Type, { type Static } from 'typebox';
import { choice, Id, IsoInstant, nullable } from './schema.ts';

/** The simulated buildings: which sites are of them, and what became of them when they were removed. */
const Site = { id: Id, name: Type.String() };

const BegunSite = Type.Object({
  ...Site,
  /** who else has saved it last; null: nobody has, and it goes without being asked about */
  changedBy: nullable(Type.String()),
  changedAt: nullable(IsoInstant),
});

export const DemonstrationAnswer = Type.Object({
  state: choice('told', 'not-told', 'removed'),
  removedAt: nullable(IsoInstant),
  /** sites that the demonstration began and that are there */
  sites: Type.Array(BegunSite),
});
export type DemonstrationAnswer = Static<typeof DemonstrationAnswer>;

export const DemonstrationRemoved = Type.Object({
  removed: Type.Array(Type.Object(Site)),
  /** those that somebody has changed and that weren’t named */
  kept: Type.Array(BegunSite),
  says: Type.String(),
});
export type DemonstrationRemoved = Static<typeof DemonstrationRemoved>;
