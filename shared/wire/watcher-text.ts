import type { Watched, WatcherMessage } from '../alarms/watcher.ts';
import { formatInstant, inSeconds } from '../base/instant.ts';
import { spokenLength } from './durations.ts';

/** What the watcher says by its second path: to whoever looks after the server, in UTC, for it has no zone. */
const WORDS: Record<Watched, { readonly wrong: string; readonly means: string; readonly first: string }> = {
  database: {
    wrong: 'the database isn’t reachable',
    means: 'Nothing is taken in, nothing is inferred, and no alarm reaches anybody while this lasts.',
    first: 'See whether PostgreSQL runs and its disk has room; then whether DATABASE_URL still leads to it.',
  },
  broker: {
    wrong: 'the broker isn’t reachable',
    means: 'No gateway is heard while this lasts. Gateways that keep their messages deliver them afterwards.',
    first: 'See whether the broker runs; then the network between it and this server, and MQTT_URL.',
  },
  ingest: {
    wrong: 'ingest is silent',
    means: 'Nothing that gateways send is taken in while this lasts, so no new alarm arises.',
    first:
      'See whether an ingest process runs and reaches broker and database; its log says what it waits for.',
  },
  inference: {
    wrong: 'inference is behind',
    means: 'What was taken in isn’t worked through, so alarms come late or not at all while this lasts.',
    first: 'See the server’s log for steps that fail, and how busy its machine and the database are.',
  },
};

export interface WatcherText {
  readonly subject: string;
  readonly text: string;
}

export function watcherText({ watched, what, says, since, at }: WatcherMessage, server: string): WatcherText {
  const { wrong, means, first } = WORDS[watched];
  const from = `${formatInstant(since).slice(0, 16).replace('T', ' ')} UTC`;
  if (what === 'over') {
    const subject = `Holdoff at ${server}: over – ${wrong}`;
    return {
      subject,
      text: `It is over: ${wrong}, from ${from}, for ${spokenLength(inSeconds(at - since))}.\n`,
    };
  }
  return {
    subject: `Holdoff at ${server}: ${wrong}`,
    text: `${upper(wrong)} since ${from}.\n${says}\n\n${means}\n${first}\n\nThis message came past what has failed. One more follows when it is over.\n`,
  };
}

export const heartbeatText = (server: string, at: number): WatcherText => ({
  subject: `Holdoff at ${server}: all is well`,
  text: `Sign of life of ${formatInstant(at).slice(0, 16).replace('T', ' ')} UTC: database, broker, ingest and inference answer.\nWhen such messages cease, nobody watches the units any more: look after the server.\n`,
});

const upper = (text: string): string => `${text[0]?.toUpperCase()}${text.slice(1)}`;
