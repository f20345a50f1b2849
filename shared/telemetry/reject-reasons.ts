/** Why an entry was set aside: the code for programs, for people what is wrong and what to do about it. */
export const REJECT_REASONS = {
  'topic-not-known': {
    says: 'the topic isn’t <root>/<site>/<device>/<signal> or <root>/<site>/<device>',
    todo: 'Publish to a topic of this form with a site, device and signal of its configuration, or let a point name this topic as its source.',
  },
  'payload-empty': {
    says: 'the payload is empty',
    todo: 'Send a value. An empty payload says nothing here.',
  },
  'payload-too-large': {
    says: 'the payload is larger than may be taken',
    todo: 'Send fewer samples in a message.',
  },
  'payload-not-utf8': {
    says: 'the payload isn’t UTF-8 text',
    todo: 'Send UTF-8 text; for binary payloads there is Sparkplug B alone.',
  },
  'payload-not-json': {
    says: 'the payload isn’t JSON',
    todo: 'Send a JSON value: a bare number or true, a text in quotation marks, or an object. Look for a comma or quotation mark too many.',
  },
  'form-not-known': {
    says: 'the payload is none of the forms that may be sent here',
    todo: 'Send one of the forms: a value, {"t":…,"v":…}, a list of those, or {"t0":…,"dt":…,"v":[…]}.',
  },
  'point-not-known': {
    says: 'the configuration has no such point',
    todo: 'Write the point into the site’s configuration, or correct the topic. What came is kept whole for 7 days.',
  },
  'time-not-known': {
    says: 'the time is neither ISO 8601 with a zone nor Unix milliseconds',
    todo: 'Send ISO 8601 with a zone, as in 2026-03-02T08:15:00.250Z, or Unix milliseconds.',
  },
  'too-late': {
    says: 'the time lies before the oldest that is retained here',
    todo: 'Nothing, if it was kept so long. Else set the gateway’s clock; RETENTION_DAYS says how long samples stay.',
  },
  'time-in-future': {
    says: 'the time lies more than 5 minutes in the future',
    todo: 'Set the gateway’s clock: it is ahead, or it sends local time as though it were UTC.',
  },
  'value-not-known': {
    says: 'the value isn’t one that this signal can have',
    todo: 'For a contact send 1 or 0, true or false, "on" or "off"; for a measure a number.',
  },
  'quality-not-known': {
    says: 'the quality is none of good, uncertain, bad',
    todo: 'Leave “q” out, or send good, uncertain or bad.',
  },
  'waveform-not-here': {
    says: 'a waveform is one of a voltage or a current, and this signal is neither',
    todo: 'Send waveforms of voltages and currents alone.',
  },
  'waveform-empty': {
    says: 'the waveform has no values: “w” must be a list of numbers',
    todo: 'Send the values as a list of numbers in “w”.',
  },
  'waveform-step': {
    says: 'the waveform’s “dt” must be the seconds between two values: above 0, at least 8 values a cycle, 60 s in all at most',
    todo: 'Look at “dt”: it is the time between two values, in seconds.',
  },
  'pointer-nowhere': {
    says: 'a point listens to this topic, but its pointer leads to nothing in the message',
    todo: 'Compare the point’s pointer with the message beneath: a name is spelt otherwise, or a level is missing.',
  },
  'payload-not-sparkplug': {
    says: 'the payload isn’t a Sparkplug B payload, or it is cut off',
    todo: 'Something else than an edge node publishes below spBv1.0, or the message is cut off.',
  },
  'sparkplug-not-born': {
    says: 'its edge node’s birth isn’t known here, so neither are its names: a rebirth is asked for',
    todo: 'Nothing, if it passes: the edge node was asked for its birth. If it stays, the edge node doesn’t answer rebirth requests.',
  },
  'sparkplug-out-of-order': {
    says: 'it came out of order, and what should have come before it didn’t come in time',
    todo: 'Nothing, if it is rare. Often: look whether two edge nodes use one name, or the uplink loses messages.',
  },
  'sparkplug-sequence': {
    says: 'the payload has no sequence number from 0 to 255',
    todo: 'The edge node must number its messages from 0 to 255 (“seq”).',
  },
  'sparkplug-metric': {
    says: 'the birth names no metric of this name or alias',
    todo: 'The edge node must name every metric in its birth. It was asked for a new one.',
  },
  'sparkplug-type': {
    says: 'a data set, a template, bytes, a file or an array is no value of a point: give single values',
    todo: 'Map a metric with a single value.',
  },
  'too-many-entries': {
    says: 'the message holds more entries than may be taken',
    todo: 'Send fewer entries in a message.',
  },
  'commit-refused': {
    says: 'the database refused it',
    todo: 'It is a fault of ours if it stays: the line tells what the database said.',
  },
} as const;

export type RejectReason = keyof typeof REJECT_REASONS;
