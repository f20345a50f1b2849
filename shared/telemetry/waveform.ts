/** How long one waveform may last: a recorder's event is seconds long; what is longer comes in pieces. */
export const LONGEST_WAVEFORM_SECONDS = 60;
/** As many as a message may hold. */
export const MOST_WAVEFORM_VALUES = 100_000;
