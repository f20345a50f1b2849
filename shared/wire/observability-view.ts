import Type, { type Static } from 'typebox';
import { WireCause, WireEventKind, WireSignal } from './event-answer.ts';
import { choice, nullable } from './schema.ts';

/** What a unit's wiring lets one know (shared/inference/observability.ts), part of `GET /api/sites/:site/units/:unit`. */

const Known = choice('certain', 'probable', 'possible', 'not-at-all');
export const Observability = Type.Object({
  /** a few plain sentences */
  summary: Type.Array(Type.Object({ can: Type.Boolean(), says: Type.String() })),
  /** every kind of event with every cause: how surely at best that it happened, and its cause */
  kinds: Type.Array(
    Type.Object({
      kind: WireEventKind,
      cause: nullable(WireCause),
      about: choice('unit', 'panel', 'space'),
      known: Known,
      causeKnown: nullable(Known),
      because: Type.String(),
      /** only where the time that is judged is shorter than this, s */
      belowSeconds: Type.Optional(Type.Number()),
    }),
  ),
  /** what is over too soon to be seen, by signal */
  blind: Type.Array(Type.Object({ signal: WireSignal, shortestSeconds: Type.Number(), says: Type.String() })),
  /** settings that nobody has recorded, and what is judged by them */
  assumed: Type.Array(Type.Object({ setting: Type.String(), says: Type.String() })),
  /** single changes that would tell more, the best for its effort first */
  changes: Type.Array(
    Type.Object({
      effort: choice('reporting', 'recording', 'wiring'),
      says: Type.String(),
      gains: Type.Array(Type.String()),
    }),
  ),
});
export type Observability = Static<typeof Observability>;
