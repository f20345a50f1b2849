import type { EventCause, EventKind } from '../inference/event.ts';
import type { MessageReason } from '../people/telling.ts';
import { clockText } from '../people/wall-time.ts';
import { cutTo, gsmLength, inGsm } from './gsm-7.ts';
import type { Named, NoticeFacts } from './notice-facts.ts';

/**
 * A notice in 160 places of the alphabet of short messages, link included: site, unit and what within the first 40, then
 * as much as fits of when and why, whether it can wait, who cools meanwhile. Cautions belong to the page and the e-mail.
 */
const SHORT_PLACES = 160;
const HEAD_PLACES = 40;
/** a longer link would leave no room for what happened */
export const LONGEST_LINK = 100;

/** At most 15 places each. Total: a new kind of event needs its short word. */
const SHORT_KINDS: Record<EventKind, string> = {
  'compressor-run': 'run',
  'short-cycle': 'short cycle',
  'soft-lockout': 'soft lockout',
  'hard-lockout': 'hard lockout',
  'lockout-reset': 'lockout reset',
  'undervoltage-hold': 'undervoltage',
  'power-loss': 'power lost',
  'simultaneous-start': 'joint start',
  'restart-sequence': 'restarting',
  'voltage-sag': 'voltage sag',
  'voltage-swell': 'voltage swell',
  interruption: 'interruption',
  'generator-supply': 'on generator',
  'stuck-contactor': 'stuck contactor',
  'failed-start': 'failed start',
  'alarm-circuit-fault': 'alarm circuit',
  'setting-mismatch': 'wrong setting',
  'control-disagrees': 'odd control',
  'control-voltage-out-of-range': 'control volts',
  'repeated-reset': 'resets repeated',
  'weak-cooling': 'weak cooling',
  'loss-of-cooling': 'cooling lost',
  'high-temperature': 'too hot',
  'telemetry-gap': 'not heard of',
};

const SHORT_CAUSES: Partial<Record<EventCause, string>> = {
  'high-pressure': 'high press.',
  'low-pressure': 'low press.',
  pressure: 'high or low press.',
  undervoltage: 'undervoltage',
  supply: 'supply failed',
  'unit-only': 'this unit only',
};

/** Where the cause tells which form of the kind it is, the two are one word. */
const SHORT_FORMS: Readonly<Record<string, string>> = {
  'loss-of-cooling/reduced': 'cooling reduced',
  'high-temperature/forecast': 'soon too hot',
  'telemetry-gap/gateway-silent': 'gateway silent',
  'telemetry-gap/point-silent': 'point silent',
};

const whatOf = ({ kind, cause }: NoticeFacts['event']): string =>
  SHORT_FORMS[`${kind}/${cause}`] ?? SHORT_KINDS[kind];

const SHORT_REASONS: Record<MessageReason, string> = {
  page: '',
  again: 'Unanswered. ',
  worse: 'Worse. ',
  cleared: 'Cleared, still yours until closed. ',
  taken: 'Taken by another. ',
  'asked-next-step': 'Still on it? ',
  'asked-alone': 'Are you all right? ',
  exhausted: 'Nobody answered. ',
  'alone-on-site': 'Alone on site, no answer. ',
  test: 'Test. ',
};

/** A link that isn't plain letters or is too long is a fault of the settings, refused where they are read. */
export function shortNotice(facts: NoticeFacts, reason: MessageReason, link: string): string {
  const tail = `${MAY_ACCEPT.has(reason) ? 'Accept: ' : ''}${link}`;
  const head = `${headOf(facts)} `;
  let left = SHORT_PLACES - gsmLength(head)! - gsmLength(tail)!;
  const kept = new Set<Part>();
  const parts = partsOf(facts, reason);
  for (const part of parts.toSorted((a, b) => a.rank - b.rank)) {
    const length = gsmLength(part.text)!;
    if (length > left) continue;
    left -= length;
    kept.add(part);
  }
  const body = parts.filter((part) => kept.has(part)).map(({ text }) => text);
  return `${head}${body.join('')}${tail}`;
}

const MAY_ACCEPT: ReadonlySet<MessageReason> = new Set(['page', 'again', 'worse']);

interface Part {
  readonly text: string;
  /** the lower, the longer it is kept */
  readonly rank: number;
}

/** What may be left out, as it is read. */
function partsOf(facts: NoticeFacts, reason: MessageReason): Part[] {
  const others = oneLine(facts.others.join(', '));
  return [
    { text: whenAndWhy(facts), rank: 1 },
    { text: SHORT_REASONS[reason], rank: 0 },
    { text: others === '' ? '' : `${cutTo(others, 24)} cooling. `, rank: 3 },
    { text: `${oneLine(shortUrgency(facts))} `, rank: 2 },
  ];
}

/** `02:38, high press. `; a cause that others fit as well has a question mark. */
function whenAndWhy({ event, zone }: NoticeFacts): string {
  const time = clockText(event.start.latest, zone);
  const cause = event.cause === null ? undefined : SHORT_CAUSES[event.cause];
  if (cause === undefined) return `${time}. `;
  const sure = event.certainty === 'certain' && event.causeCertainty !== 'possible';
  return `${time}, ${cause}${sure ? '' : '?'} `.replace(/([^.?]) $/, '$1. ');
}

const oneLine = (text: string): string => inGsm(text).replace(/\s+/g, ' ').trim();

/** `Pine Ridge U2 hard lockout`, within 40 places whatever the names. */
function headOf({ site, device, event }: NoticeFacts): string {
  const what = whatOf(event);
  const room = HEAD_PLACES - what.length - 1;
  const siteName = plainName(site);
  if (device === null) return `${cutTo(siteName, room)} ${what}`;
  const unitName = plainName(device);
  const unitPlaces = Math.max(Math.floor(room / 2), room - 1 - gsmLength(siteName)!);
  const unit = cutTo(unitName, unitPlaces);
  return `${cutTo(siteName, room - 1 - gsmLength(unit)!)} ${unit} ${what}`;
}

/** A name that the alphabet can't write gives way to its id, which is plain letters. */
function plainName({ id, name }: Named): string {
  const plain = oneLine(name);
  const lost = [...plain].filter((letter) => letter === '?').length;
  return plain === '' || lost * 2 > plain.length ? id : plain;
}

function shortUrgency({ urgency }: NoticeFacts): string {
  const reason = urgency.says.replace(/^[^:]*: /, '').replace(/\.$/, '');
  if (urgency.answer === 'go-now') return reason.length <= 40 ? `Go now: ${reason}.` : 'Go now.';
  if (urgency.answer === 'not-known')
    return reason.length <= 30 ? `Can't be told: ${reason}.` : "How long can't be told.";
  return `${/^Can wait until \d\d:\d\d/.exec(urgency.says)?.[0].replace('until', 'to') ?? 'Can wait'}.`;
}
