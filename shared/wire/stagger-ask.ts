import Type, { type Static } from 'typebox';
import { choice } from './schema.ts';
import { SLUG } from './site-document.ts';

/** What may be asked of a panel's plan, and of a proposal. Whatever is left out is as usual. */
const closed = { additionalProperties: false };
const within = (minimum: number, maximum: number, description: string) =>
  Type.Optional(Type.Number({ minimum, maximum, description }));

export const StaggerAsk = Type.Object(
  {
    spacing: within(0.1, 60, 's between starts; usually the panel’s `minimumStartSeparation`'),
    hold: Type.Optional(choice('worst-case', 'timers', 'nominal')),
    tolerance: within(0, 0.1, 'share by which two timers may differ; usually 0.01'),
    handSet: Type.Optional(
      Type.Boolean({ description: 'dials may be off by each unit’s `settingError`; usually true' }),
    ),
    settingStep: within(1, 60, 's; usually 10'),
    floor: within(30, 300, 's, for pressures to equalise; usually 180'),
    most: within(30, 300, 's; usually 300'),
    lowestVoltage: within(0.5, 1, 'share of the voltage that stays while motors start; usually 0.85'),
    startPowerFactor: within(0.1, 1, 'of a locked rotor; usually 0.7'),
    generator: Type.Optional(
      Type.Object(
        {
          ratedKva: Type.Number({ minimum: 1, maximum: 100_000 }),
          transientReactance: within(0.05, 1, 'per unit; usually 0.25'),
        },
        closed,
      ),
    ),
  },
  closed,
);
export type StaggerAsk = Static<typeof StaggerAsk>;

export const StepNote = Type.Object({ note: Type.Optional(Type.String({ maxLength: 2000 })) }, closed);

export const SetAsk = Type.Object(
  {
    /** when it was set; left out: now */
    at: Type.Optional(Type.String({ maxLength: 40, description: 'ISO 8601 with its zone; usually now' })),
    readBacks: Type.Array(
      Type.Object(
        {
          unit: Type.String({ pattern: SLUG }),
          offDelay: Type.Unsafe<number | null>({
            type: ['number', 'null'],
            minimum: 30,
            maximum: 300,
            description: 's, as dial or display shows it after setting; null: it could not be set',
          }),
          shows: Type.Optional(Type.String({ maxLength: 200 })),
        },
        closed,
      ),
      { minItems: 1, maxItems: 200 },
    ),
    note: Type.Optional(Type.String({ maxLength: 2000 })),
  },
  closed,
);
export type SetAsk = Static<typeof SetAsk>;
