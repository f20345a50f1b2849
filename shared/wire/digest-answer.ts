import Type, { type Static } from 'typebox';

/** When somebody wants the morning digest. */
const settings = {
  isOn: Type.Boolean(),
  at: Type.String({ pattern: '^([01]\\d|2[0-3]):[0-5]\\d$', description: 'on the wall of the zone' }),
  zone: Type.String({ minLength: 1, maxLength: 64, examples: ['America/Chicago'] }),
  weekday: Type.Integer({
    minimum: 1,
    maximum: 7,
    description: '1 to 7 from Monday: the day on which it comes also when all is quiet',
  }),
  isMonthly: Type.Boolean({ description: 'the report of the month before comes on the first, by e-mail' }),
};

export const DigestAsk = Type.Object(settings, { additionalProperties: false });

export const DigestAnswer = Type.Object({
  ...settings,
  /** nobody has chosen: as usual */
  isUsual: Type.Boolean(),
});
export type DigestAnswer = Static<typeof DigestAnswer>;
