import type { AlarmAnswer, AlarmAsk } from '../../../shared/wire/alarm-answer.ts';
import { sendJson } from '../net/http.ts';

/** What is sent with each wish besides its name. */
export type AskWords = Readonly<Record<string, string | number>>;

/** Sends a wish about an alarm under an id of its own, so that sending it twice is the same as once. */
export const askAlarm = (alarm: string, ask: AlarmAsk, words: AskWords = {}): Promise<AlarmAnswer> =>
  sendJson<AlarmAnswer>('POST', `/alarms/${encodeURIComponent(alarm)}/${ask}`, {
    command: crypto.randomUUID(),
    ...words,
  });
