import Type, { type TSchema } from 'typebox';

/**
 * The words that every schema of the wire is made of. Times are ISO 8601 in UTC; an uncertain time is an interval of
 * two; a measure is a number, [low, high], a text or nothing (contract sections 4 and 5).
 */
export const choice = <C extends string>(...choices: readonly C[]) =>
  Type.Unsafe<C>({ type: 'string', enum: [...choices] });

export const nullable = <T extends TSchema>(schema: T) => Type.Union([schema, Type.Null()]);

export const IsoInstant = Type.String({
  maxLength: 40,
  description: 'ISO 8601, UTC',
  examples: ['2026-03-02T08:15:00.250Z'],
});

export const WireSpan = Type.Object(
  { earliest: IsoInstant, latest: IsoInstant },
  { description: 'an instant that is only known to lie between two others, both included' },
);

export const WireBounds = Type.Unsafe<readonly [number, number]>({
  type: 'array',
  items: { type: 'number' },
  minItems: 2,
  maxItems: 2,
});

export const Count = Type.Integer({ minimum: 0 });
export const Id = Type.String({ maxLength: 100 });
