/** Why an entry was set aside: the code for programs, the words for people. */
export const REJECT_REASONS = {
  'topic-not-known': 'the topic isn’t <root>/<site>/<device>/<signal> or <root>/<site>/<device>',
  'payload-empty': 'the payload is empty',
  'payload-too-large': 'the payload is larger than may be taken',
  'payload-not-utf8': 'the payload isn’t UTF-8 text',
  'payload-not-json': 'the payload isn’t JSON',
  'form-not-known': 'the payload is none of the forms that may be sent here',
  'point-not-known': 'the configuration has no such point',
  'time-not-known': 'the time is neither ISO 8601 with a zone nor Unix milliseconds',
  'time-in-future': 'the time lies more than 5 minutes in the future',
  'value-not-known': 'the value isn’t one that this signal can have',
  'quality-not-known': 'the quality is none of good, uncertain, bad',
  'waveform-not-here': 'a waveform is one of a voltage or a current, and this signal is neither',
  'waveform-empty': 'the waveform has no values: “w” must be a list of numbers',
  'waveform-step':
    'the waveform’s “dt” must be the seconds between two values: above 0, at least 8 values a cycle, 60 s in all at most',
  'pointer-nowhere': 'a point listens to this topic, but its pointer leads to nothing in the message',
  'payload-not-sparkplug': 'the payload isn’t a Sparkplug B payload, or it is cut off',
  'sparkplug-not-born':
    'its edge node’s birth isn’t known here, so neither are its names: a rebirth is asked for',
  'sparkplug-out-of-order': 'it came out of order, and what should have come before it didn’t come in time',
  'sparkplug-sequence': 'the payload has no sequence number from 0 to 255',
  'sparkplug-metric': 'the birth names no metric of this name or alias',
  'sparkplug-type':
    'a data set, a template, bytes, a file or an array is no value of a point: give single values',
  'too-many-entries': 'the message holds more entries than may be taken',
  'commit-refused': 'the database refused it',
} as const;

export type RejectReason = keyof typeof REJECT_REASONS;

/** Those that a change of configuration or of a clock may mend keep their whole payload, to be taken in later. */
export const keepsWhole = (reason: RejectReason): boolean =>
  reason === 'point-not-known' || reason === 'time-in-future';

/** Bytes kept of the others. */
export const KEPT_BYTES = 1_024;
