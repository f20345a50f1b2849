import { choice, NONE, YES_NO, type Field } from './field.ts';
import type { Section } from './part.ts';

/**
 * The protection control's settings (handbook 2.1). What isn't given is assumed, and nothing is called certain on it; the help
 * says in general words where such a setting is read. Common practice, no source: controls differ, and the unit’s own
 * instructions come first.
 */
const WHERE_DIAL =
  'Read it from the dial or the switches of the control, in the unit’s control box, or in the unit’s wiring diagram, by qualified people only. If it can’t be read, leave it out: restarts will show it.';
const WHERE_BOOK =
  'It stands in the control’s instructions, if anywhere. If it isn’t known, leave it out: both are then taken as possible.';

const setting = (name: string, label: string, more: Omit<Field, 'path' | 'label'>): Field => ({
  path: ['protection', name],
  label,
  ...more,
});
const seconds = (name: string, label: string, assumed: number, help: string): Field =>
  setting(name, label, { kind: 'number', measure: 's', assumed, help });

const EITHER = choice('either', 'not known which');

const DELAYS: Section = {
  title: 'Protection control: delays',
  help: 'What is given counts as recorded, what is left out as assumed. Time from the record proves or contradicts it.',
  fields: [
    seconds('offDelay', 'Off-cycle delay (delay on break)', 210, WHERE_DIAL),
    setting('offDelayFrom', 'Off-cycle delay counts from', {
      kind: 'choice',
      choices: [choice('stop', 'the stop'), choice('call', 'the call’s end'), EITHER],
      assumed: 'either',
      help: WHERE_BOOK,
    }),
    seconds(
      'powerUpBase',
      'Power-up delay, base (delay on make)',
      120,
      'What it waits after power returns, before the share below is added. In the control’s instructions.',
    ),
    setting('powerUpShare', 'Power-up delay, share of the off-cycle delay', {
      kind: 'number',
      assumed: 0.1,
      help: 'As a share: 0.1 adds a tenth of the off-cycle delay, so that neighbours with different dials start apart.',
    }),
    setting('holdUp', 'Rides through a loss of power of', {
      kind: 'number',
      measure: 's',
      assumed: 0,
      help: 'A loss shorter than this doesn’t reset the control. Seldom known: leave it out.',
    }),
  ],
};

const PRESSURE: Section = {
  title: 'Protection control: pressure switches',
  fields: [
    seconds(
      'lowPressureBypass',
      'Low-pressure bypass',
      120,
      'For so long an open low-pressure switch is tolerated. ' + WHERE_DIAL,
    ),
    setting('lowPressureRetry', 'Low pressure still open at the retry', {
      kind: 'choice',
      choices: [
        choice('closed-needed', 'latches at once'),
        choice('bypass-again', 'gets the bypass again'),
        EITHER,
      ],
      assumed: 'either',
      help: WHERE_BOOK,
    }),
    setting('stopsCounted', 'Stops counted toward a hard lockout', {
      kind: 'choice',
      choices: [choice('together', 'together'), choice('by-switch', 'each switch by itself'), EITHER],
      assumed: 'either',
      help: WHERE_BOOK,
    }),
  ],
};

const VOLTAGE: Section = {
  title: 'Protection control: undervoltage',
  fields: [
    setting('undervoltageTrip', 'Undervoltage trip', {
      kind: 'number',
      measure: 'V',
      choices: [NONE('this control has none')],
      assumed: 18,
      help: 'Below this control voltage the coil is dropped. “None” where the control has no such trip.',
    }),
    seconds('undervoltageStartGrace', 'Undervoltage ignored after a start for', 0, WHERE_BOOK),
    setting('undervoltageDelayFrom', 'After undervoltage the delay counts from', {
      kind: 'choice',
      choices: [choice('drop', 'the drop'), choice('recovery', 'the recovery'), EITHER],
      assumed: 'either',
      help: WHERE_BOOK,
    }),
  ],
};

const JUDGED: Section = {
  title: 'How closely it is held to them',
  fields: [
    setting('tolerance', 'Timers may be off by', {
      kind: 'number',
      assumed: 0.05,
      help: 'As a share: 0.05 is 5 %.',
    }),
    seconds(
      'settingError',
      'A hand-set dial may be off by',
      10,
      'Half of a step that one can still see on the dial.',
    ),
    setting('startsPerHourLimit', 'Too many starts in an hour above', {
      kind: 'number',
      assumed: 10,
      help: 'A light room with a narrow differential may start seven times an hour quite properly.',
    }),
  ],
};

export const PROTECTION: readonly Section[] = [DELAYS, PRESSURE, VOLTAGE, JUDGED];

export const yesNo = (name: string, label: string, help: string, assumed?: boolean): Field => ({
  path: [name],
  label,
  kind: 'choice',
  choices: YES_NO,
  ...(assumed === undefined ? {} : { assumed }),
  help,
});
