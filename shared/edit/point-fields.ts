import { signalRow, SIGNALS, isSignalName, type SignalName } from '../telemetry/signals.ts';
import { choice, NONE, type EditedDevice, type Entry, type Field } from './field.ts';
import type { Part } from './part.ts';

/** A point: which signal it is, how it is wired, how it reports, what its numbers mean, and where they come from. */
const rowOf = ({ signal }: Entry) =>
  typeof signal === 'string' && isSignalName(signal) ? signalRow(signal) : null;
const isContact = (point: Entry): boolean => rowOf(point)?.kind === 'contact';
const isAnalog = (point: Entry): boolean => rowOf(point)?.kind === 'analog';
const isPressure = ({ signal }: Entry): boolean => signal === 'high-pressure' || signal === 'low-pressure';
const isPolled = ({ reporting }: Entry): boolean =>
  typeof reporting === 'object' && (reporting as Entry | null)?.['mode'] === 'polled';

/** Signals that may be wired on such a device, in the table's order. */
export const signalsOn = (device: EditedDevice): SignalName[] =>
  (Object.keys(SIGNALS) as SignalName[]).filter((name) =>
    (signalRow(name).on as readonly string[]).includes(device),
  );

const SIGNAL_CHOICES = (Object.keys(SIGNALS) as SignalName[])
  .filter((name) => name !== 'life')
  .map((name) => choice(name, SIGNALS[name].name));

const WIRED: readonly Field[] = [
  {
    path: ['signal'],
    label: 'Signal',
    kind: 'choice',
    choices: SIGNAL_CHOICES,
    help: 'What it means on the unit, not what the gateway calls its input.',
  },
  {
    path: ['gateway'],
    label: 'Gateway',
    kind: 'line',
    names: 'gateways',
    help: 'To whose input it is wired. Left out: the first of the list.',
  },
  {
    path: ['contact'],
    label: 'Contact',
    kind: 'choice',
    choices: [choice('normally-open', 'normally open'), choice('normally-closed', 'normally closed')],
    assumed: (point: Entry) => (isPressure(point) ? 'normally-closed' : 'normally-open'),
    when: isContact,
    help: 'Normally open: closed means that it is so. Normally closed: open means that it is so, as with most pressure switches, which open on a trip. In the wiring diagram; the proof on site shows it.',
  },
  {
    path: ['sense'],
    label: 'Sensed where',
    kind: 'choice',
    choices: [
      choice('own', 'at the control’s own terminal'),
      choice('upstream', 'upstream of it'),
      choice('isolated', 'by a contact of its own'),
      choice('loop', 'behind the switch, fed by the call'),
    ],
    assumed: (point: Entry) => (isPressure(point) ? 'loop' : 'own'),
    when: ({ signal }) => signal === 'cooling-call' || isPressure({ signal }),
    help: 'A call upstream of thermostat delays, economiser or lead/lag controller says less than one at the control. A pressure switch sensed by the voltage behind it is dark while the call is away; one with a contact of its own is true at all times.',
  },
  {
    path: ['alarmOn'],
    label: 'Alarm when its relay is',
    kind: 'choice',
    choices: [choice('energised', 'energised'), choice('released', 'released')],
    assumed: 'energised',
    when: ({ signal }) => signal === 'lockout-alarm',
    help: 'A relay that releases for an alarm reads as alarm during a power loss too.',
  },
  {
    path: ['of'],
    label: 'Shared by the units',
    kind: 'ids',
    names: 'units',
    when: ({ signal }, device) => device === 'site' && signal === 'lockout-alarm',
    help: 'Where one contact serves several units: their ids. It then proves “one of these”.',
  },
];

const REPORTS: readonly Field[] = [
  {
    path: ['reporting', 'mode'],
    label: 'Reports',
    kind: 'choice',
    choices: [choice('on-change', 'on change'), choice('polled', 'polled, each so often')],
    assumed: 'on-change',
    help: 'On change tells times to a tenth of a second; polled tells no closer than its period. A setting of the gateway.',
  },
  {
    path: ['reporting', 'seconds'],
    label: 'Polled every',
    kind: 'number',
    measure: 's',
    when: isPolled,
    help: 'As the gateway is set. Three periods without a value count as silence.',
  },
  {
    path: ['debounce'],
    label: 'Debounce',
    kind: 'number',
    measure: 's',
    assumed: 0.05,
    when: isContact,
    help: 'Changes closer together than this are one.',
  },
  {
    path: ['resolution'],
    label: 'Resolution in time',
    kind: 'number',
    measure: 's',
    assumed: 0.1,
    help: 'How closely the gateway tells when a change was.',
  },
  {
    path: ['deadband'],
    label: 'Deadband',
    kind: 'number',
    assumed: 0,
    when: isAnalog,
    help: 'A value that reports on change is told when it has moved by more than this.',
  },
];

const range = (place: '0' | '1', label: string): Field => ({
  path: ['range', place],
  label,
  kind: 'number',
  assumed: (point: Entry) => rowOf(point)?.range[Number(place)],
  help: 'What lies outside is kept and doesn’t count: a broken sensor decides nothing.',
});

const VALUES: readonly Field[] = [
  range('0', 'Lowest plausible value'),
  range('1', 'Highest plausible value'),
  {
    path: ['scale'],
    label: 'Scale',
    kind: 'number',
    assumed: 1,
    when: isAnalog,
    help: 'What comes in is multiplied by this, then the offset is added: a tenth for a value told in tenths.',
  },
  {
    path: ['offset'],
    label: 'Offset',
    kind: 'number',
    assumed: 0,
    when: isAnalog,
    help: 'Added after the scale.',
  },
];

const SOURCE: readonly Field[] = [
  {
    path: ['source', 'topic'],
    label: 'Topic of its own',
    kind: 'line',
    help: 'Left out, it is heard at holdoff/site/device/signal. Wildcards + and # are allowed below the first level.',
  },
  {
    path: ['source', 'pointer'],
    label: 'Pointer to its value',
    kind: 'line',
    help: 'Where in the message the value stands, as /inputs/3/state. Left out: the whole message.',
  },
  {
    path: ['source', 'time'],
    label: 'Pointer to its time',
    kind: 'line',
    choices: [NONE('none')],
    help: 'Where in the message its time stands, as /ts. Left out: as the value itself tells, else when it arrives.',
  },
  {
    path: ['input'],
    label: 'Told under another’s name',
    kind: 'line',
    help: 'device/signal, as unit-2/cooling-call: where its wire lies on another point’s input of the gateway. The proof on site finds it. Left out: its own.',
  },
  {
    path: ['sparkplug'],
    label: 'Sparkplug metric',
    kind: 'line',
    help: 'group/edge node/device/metric; the device is empty for a metric of the edge node itself. Instead of a topic.',
  },
];

export const POINT: Part = {
  title: 'Point',
  sections: [
    { title: '', fields: WIRED },
    { title: 'How it reports', fields: REPORTS },
    { title: 'What its numbers mean', fields: VALUES },
    { title: 'Where it comes from', fields: SOURCE },
  ],
  lists: [],
};
