import Type, { type Static, type TSchema } from 'typebox';
import { CODE_LETTERS, type CodeLetter } from '../power/code-letters.ts';
import { SIGNALS, type SignalName } from '../telemetry/signals.ts';

/**
 * The schema of a site's document, as people and programs write it (contract section 3). Durations are seconds,
 * temperatures °C, voltages V RMS. Only ids, `timeZone`, a unit's `panel` and a point's `signal` must be given;
 * defaults are filled in by resolve-site.ts, references between the parts are checked by check-references.ts.
 * A field that isn't listed is refused: a mistyped setting must not pass as "not given, so assumed".
 */
const closed = <P extends Record<string, TSchema>>(properties: P) =>
  Type.Object(properties, { additionalProperties: false });
const optional = Type.Optional;
const number = (minimum: number, maximum: number) => Type.Number({ minimum, maximum });
const nullable = (minimum: number, maximum: number) =>
  Type.Unsafe<number | null>({ type: ['number', 'null'], minimum, maximum });
const choice = <C extends string>(...choices: C[]) => Type.Unsafe<C>({ type: 'string', enum: choices });
const text = (maxLength = 200) => Type.String({ maxLength });
/** What people read on a page, in a subject line, on one line of a message. */
const name = () => Type.String({ maxLength: 200, pattern: '^[^\\u0000-\\u001f\\u007f\\u2028\\u2029]*$' });

export const SLUG = '^[a-z0-9][a-z0-9-]{0,62}$';
const slug = () => Type.String({ pattern: SLUG });
const clockTime = () => Type.String({ pattern: '^([01][0-9]|2[0-3]):[0-5][0-9]$|^24:00$' });
const DAY = '(mon|tue|wed|thu|fri|sat|sun)';
const days = () => Type.String({ pattern: `^${DAY}(-${DAY})?(,${DAY}(-${DAY})?)*$` });

const ReportingDocument = closed({
  mode: choice('on-change', 'polled'),
  seconds: optional(number(0.001, 86_400)),
});

export const PointDocument = closed({
  signal: choice(...(Object.keys(SIGNALS) as SignalName[]).filter((name) => name !== 'life')),
  gateway: optional(slug()),
  contact: optional(choice('normally-open', 'normally-closed')),
  sense: optional(choice('own', 'upstream', 'isolated', 'loop')),
  alarmOn: optional(choice('energised', 'released')),
  of: optional(Type.Array(slug(), { maxItems: 200 })),
  reporting: optional(ReportingDocument),
  debounce: optional(number(0, 60)),
  resolution: optional(number(0, 60)),
  deadband: optional(number(0, 1000)),
  range: optional(Type.Array(Type.Number(), { minItems: 2, maxItems: 2 })),
  scale: optional(number(-1e9, 1e9)),
  offset: optional(number(-1e9, 1e9)),
  source: optional(
    closed({
      topic: Type.String({ minLength: 1, maxLength: 1024 }),
      pointer: optional(Type.String({ pattern: '^(/([^~/]|~[01])*)*$', maxLength: 1024 })),
      time: optional(
        Type.Unsafe<string | null>({
          type: ['string', 'null'],
          pattern: '^(/([^~/]|~[01])*)*$',
          maxLength: 1024,
        }),
      ),
    }),
  ),
  input: optional(Type.String({ pattern: '^[a-z0-9][a-z0-9-]{0,62}/[a-z0-9][a-z0-9-]{0,62}$' })),
  sparkplug: optional(Type.String({ pattern: '^[^/]+/[^/]+/.+$', maxLength: 1024 })),
});

const points = () => optional(Type.Array(PointDocument, { maxItems: 100 }));

export const ProtectionDocument = closed({
  offDelay: optional(number(30, 300)),
  offDelayFrom: optional(choice('call', 'stop', 'either')),
  powerUpBase: optional(number(0, 600)),
  powerUpShare: optional(number(0, 1)),
  lowPressureBypass: optional(number(0, 600)),
  lowPressureRetry: optional(choice('closed-needed', 'bypass-again', 'either')),
  stopsCounted: optional(choice('together', 'by-switch', 'either')),
  undervoltageTrip: optional(nullable(5, 24)),
  undervoltageStartGrace: optional(number(0, 60)),
  undervoltageDelayFrom: optional(choice('drop', 'recovery', 'either')),
  holdUp: optional(number(0, 10)),
  tolerance: optional(number(0, 0.5)),
  settingError: optional(number(0, 60)),
  startsPerHourLimit: optional(Type.Integer({ minimum: 1, maximum: 60 })),
});

export const GatewayDocument = closed({
  id: slug(),
  name: optional(name()),
  heartbeatSeconds: optional(nullable(1, 86_400)),
  clockUncertainty: optional(number(0, 3600)),
  clockOffsets: optional(
    Type.Array(closed({ from: text(40), seconds: number(-86_400 * 366, 86_400 * 366) }), { maxItems: 200 }),
  ),
});

export const SpaceDocument = closed({
  id: slug(),
  name: optional(name()),
  limits: optional(
    closed({ temperature: optional(nullable(-40, 90)), forecastSeconds: optional(number(60, 86_400)) }),
  ),
  unitsNeeded: optional(Type.Integer({ minimum: 0, maximum: 200 })),
  inUse: optional(Type.Array(closed({ days: days(), from: clockTime(), to: clockTime() }), { maxItems: 50 })),
  notes: optional(text(4000)),
  points: points(),
});

export const PanelDocument = closed({
  id: slug(),
  name: optional(name()),
  nominalVoltage: optional(number(80, 1000)),
  phases: optional(Type.Unsafe<1 | 3>({ type: 'integer', enum: [1, 3] })),
  frequency: optional(Type.Unsafe<50 | 60>({ type: 'integer', enum: [50, 60] })),
  supply: optional(
    closed({
      kind: choice('transformer', 'generator'),
      ratedKva: number(0.1, 100_000),
      impedancePercent: optional(number(0.1, 100)),
      reactanceToResistance: optional(number(0, 100)),
    }),
  ),
  generator: optional(
    closed({ ratedKva: number(0.1, 100_000), transientReactance: optional(number(0.01, 1)) }),
  ),
  startVoltageLimit: optional(number(0.5, 1)),
  minimumStartSeparation: optional(number(0, 600)),
  notes: optional(text(4000)),
  points: points(),
});

export const UnitDocument = closed({
  id: slug(),
  name: optional(name()),
  panel: slug(),
  space: optional(slug()),
  role: optional(choice('lead', 'lag')),
  equipment: optional(choice('cooling-only', 'heat-pump')),
  economiser: optional(Type.Boolean()),
  dehumidification: optional(Type.Boolean()),
  lowAmbientCutout: optional(
    Type.Unsafe<number | boolean | null>({ type: ['number', 'boolean', 'null'], minimum: -60, maximum: 40 }),
  ),
  thermostatDelay: optional(number(0, 3600)),
  allowedOnGenerator: optional(Type.Boolean()),
  holdUp: optional(number(0, 10)),
  nameplate: optional(
    closed({
      lockedRotorAmps: optional(nullable(0.1, 10_000)),
      ratedLoadAmps: optional(nullable(0.1, 10_000)),
      codeLetter: optional(choice(...(Object.keys(CODE_LETTERS) as CodeLetter[]))),
      horsepower: optional(number(0.01, 10_000)),
    }),
  ),
  protection: optional(ProtectionDocument),
  position: optional(text()),
  disconnect: optional(text()),
  make: optional(text()),
  model: optional(text()),
  serial: optional(text()),
  refrigerant: optional(text()),
  filter: optional(text()),
  breaker: optional(text()),
  notes: optional(text(4000)),
  photos: optional(Type.Array(text(2000), { maxItems: 50 })),
  points: points(),
});

export const SiteDocument = closed({
  name: optional(name()),
  timeZone: text(100),
  address: optional(text(1000)),
  location: optional(closed({ latitude: number(-90, 90), longitude: number(-180, 180) })),
  contacts: optional(
    Type.Array(
      closed({
        name: optional(name()),
        role: optional(text()),
        phone: optional(text()),
        email: optional(text()),
        notes: optional(text(1000)),
      }),
      { maxItems: 50 },
    ),
  ),
  access: optional(text(4000)),
  notes: optional(text(4000)),
  gateways: optional(Type.Array(GatewayDocument, { maxItems: 200 })),
  spaces: optional(Type.Array(SpaceDocument, { maxItems: 1000 })),
  panels: optional(Type.Array(PanelDocument, { maxItems: 500 })),
  units: optional(Type.Array(UnitDocument, { maxItems: 1000 })),
  points: points(),
});

export type SiteDocument = Static<typeof SiteDocument>;
export type GatewayDocument = Static<typeof GatewayDocument>;
export type SpaceDocument = Static<typeof SpaceDocument>;
export type PanelDocument = Static<typeof PanelDocument>;
export type UnitDocument = Static<typeof UnitDocument>;
export type PointDocument = Static<typeof PointDocument>;
export type ProtectionDocument = Static<typeof ProtectionDocument>;
