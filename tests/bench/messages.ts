import { seconds, type Instant } from '../../shared/base/instant.ts';
import { BEGIN, SITE } from './unit-record.ts';

/** The messages that a run publishes, and the rows that they must become. */
export interface Load {
  readonly messages: number;
  readonly samplesPerMessage: 1 | 60;
  /** runs of one bench never share an instant: every sample is a new row */
  readonly run: number;
}

export const UNITS = 100;
const SIGNAL = 'control-voltage';
const VALUE = 26.1;
/** seconds of a unit's time that a run may fill */
const RUN_SECONDS = 10_000;

const beginOf = ({ run }: Load): Instant => BEGIN + run * seconds(RUN_SECONDS);

export function* messagesOf(load: Load): Generator<{ readonly topic: string; readonly payload: string }> {
  for (let i = 0; i < load.messages; i++) {
    const topic = `holdoff/${SITE}/unit-${(i % UNITS) + 1}/${SIGNAL}`;
    yield { topic, payload: payloadOf(load, Math.floor(i / UNITS)) };
  }
}

function payloadOf(load: Load, place: number): string {
  const first = beginOf(load) / 1000 + place * load.samplesPerMessage * 1000;
  if (load.samplesPerMessage === 1) return JSON.stringify({ t: first, v: VALUE });
  const t = Array.from({ length: load.samplesPerMessage }, (_, i) => first + i * 1000);
  return JSON.stringify({ t, v: t.map(() => VALUE) });
}

/** How many samples a load carries. */
export const samplesOf = (load: Load): number => load.messages * load.samplesPerMessage;
