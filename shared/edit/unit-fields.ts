import { CODE_LETTERS } from '../power/code-letters.ts';
import { choice, NONE, YES_NO, type Field } from './field.ts';
import type { Part, Section } from './part.ts';
import { POINTS } from './place-fields.ts';
import { PROTECTION, yesNo } from './protection-fields.ts';
import { idField, nameField, notesField } from './site-fields.ts';

/** A unit: where it belongs, its nameplate, its control’s settings, its options, and what helps whoever stands before it. */
const fact = (name: string, label: string, help?: string): Field => ({
  path: [name],
  label,
  kind: 'line',
  ...(help === undefined ? {} : { help }),
});

const BELONGS: Section = {
  title: '',
  fields: [
    idField('Id of the unit'),
    nameField('Name of the unit'),
    {
      path: ['panel'],
      label: 'Panel',
      kind: 'line',
      names: 'panels',
      help: 'The panel that feeds it. Units of one panel are looked at together after an outage.',
    },
    {
      path: ['space'],
      label: 'Space',
      kind: 'line',
      names: 'spaces',
      help: 'What it cools. Left out: in a site that lists spaces the unit is its own, else all units share one.',
    },
    {
      path: ['role'],
      label: 'Role',
      kind: 'choice',
      choices: [choice('lead', 'lead'), choice('lag', 'lag')],
      help: 'A label for people: controllers rotate it, and no rule leans on it.',
    },
    {
      path: ['equipment'],
      label: 'Equipment',
      kind: 'choice',
      choices: [choice('cooling-only', 'cooling only'), choice('heat-pump', 'heat pump')],
      assumed: 'cooling-only',
      help: 'A heat pump has a reversing valve; the model’s designation or its nameplate tells.',
    },
  ],
};

const amps = (name: string, label: string, help: string): Field => ({
  path: ['nameplate', name],
  label,
  kind: 'number',
  measure: 'A',
  choices: [NONE('not on the nameplate')],
  help,
});

const NAMEPLATE: Section = {
  title: 'Nameplate of the compressor',
  help: 'On the unit’s outside, often behind the service panel’s edge.',
  fields: [
    amps(
      'lockedRotorAmps',
      'Locked-rotor current (LRA)',
      'Marked LRA on the line of the compressor. It tells how far a start pulls the voltage down.',
    ),
    amps(
      'ratedLoadAmps',
      'Rated load current (RLA)',
      'Marked RLA on the line of the compressor. With its current wired, a run is told by it.',
    ),
    {
      path: ['nameplate', 'codeLetter'],
      label: 'Code letter',
      kind: 'choice',
      choices: Object.keys(CODE_LETTERS).map((letter) => choice(letter, letter)),
      help: 'A letter for locked-rotor kVA per horsepower, where no LRA is given.',
    },
    {
      path: ['nameplate', 'horsepower'],
      label: 'Horsepower',
      kind: 'number',
      measure: 'hp',
      help: 'Of the compressor’s motor; with the code letter it stands for the LRA.',
    },
  ],
};

const OPTIONS: Section = {
  title: 'Options of the unit',
  fields: [
    yesNo(
      'economiser',
      'Economiser',
      'It may cool with outdoor air: a call for cooling then needn’t start the compressor.',
    ),
    yesNo(
      'dehumidification',
      'Dehumidification',
      'It may run to dry the air: a call isn’t a need for cooling then, and cooling is judged by temperature.',
      false,
    ),
    {
      path: ['lowAmbientCutout'],
      label: 'Low-ambient cut-out',
      kind: 'number',
      measure: '°C',
      choices: [...YES_NO, NONE('none')],
      help: 'The outdoor temperature below which it won’t cool; “yes” where there is one and its setting isn’t known. In the wiring diagram.',
    },
    {
      path: ['thermostatDelay'],
      label: 'Longest delay of the thermostat',
      kind: 'number',
      measure: 's',
      assumed: 300,
      help: 'How long a thermostat or a controller upstream may hold a call back by itself.',
    },
    yesNo(
      'allowedOnGenerator',
      'May run on the generator',
      '“No” where it is held off by design while the generator supplies: it then isn’t missed.',
      true,
    ),
    {
      path: ['holdUp'],
      label: 'Rides through a loss of power of (given with the unit)',
      kind: 'number',
      measure: 's',
      help: 'The same as under the protection control, where it is better given: keep one of them.',
      when: () => false,
    },
  ],
};

const FOR_PEOPLE: Section = {
  title: 'For whoever stands before it',
  fields: [
    fact('position', 'Position', 'As “left of two, seen from outside”.'),
    fact('disconnect', 'Disconnect', 'Where it is switched off and locked.'),
    fact('breaker', 'Breaker', 'Panel and number.'),
    fact('make', 'Make', 'On the nameplate.'),
    fact('model', 'Model', 'On the nameplate.'),
    fact('serial', 'Serial number', 'On the nameplate.'),
    fact('refrigerant', 'Refrigerant', 'On the nameplate, with its charge.'),
    fact('filter', 'Filter', 'Size and how many: what to bring.'),
    notesField,
  ],
};

export const UNIT: Part = {
  title: 'Unit',
  sections: [BELONGS, NAMEPLATE, ...PROTECTION, OPTIONS, FOR_PEOPLE],
  lists: [POINTS, { name: 'photos', of: 'photo', title: 'Photos', one: 'photo' }],
};
