import { setTimeout as wait } from 'node:timers/promises';
import type { ReplayAnswer, ReplayResultAnswer } from '../shared/wire/replay-answer.ts';
import { replaySentences } from '../shared/wire/replay-sentences.ts';
import { askServer } from './ask-server.ts';
import { runCommand, showProgress } from './command.ts';
import { readReplayArguments, type ReadReplayArguments } from './replay/command-arguments.ts';

/**
 * `npm run replay -- …`: asks a running server and prints its answer as text. Over HTTP and not from the database, for the
 * server's bounds and its line of one replay at a time then hold for everybody, and its embedded database has no other door.
 */
const LOOK_MS = 300;
await runCommand(readReplayArguments(process.argv.slice(2)), run);

async function run({ asked, api }: ReadReplayArguments & { ok: true }): Promise<void> {
  let answer = await askServer<ReplayAnswer>(api, 'POST', '/api/replay', asked);
  const path = `/api/replay/${answer.id}`;
  const cancel = new AbortController();
  for (const signal of ['SIGINT', 'SIGTERM'] as const) process.once(signal, () => cancel.abort());
  while (answer.state === 'waiting' || answer.state === 'running') {
    showProgress(`${Math.floor(answer.progress * 100)} %`);
    await wait(LOOK_MS, null, { signal: cancel.signal }).catch(() => null);
    if (cancel.signal.aborted) {
      await askServer(api, 'DELETE', path);
      throw new Error('Cancelled.');
    }
    answer = await askServer<ReplayAnswer>(api, 'GET', path);
  }
  showProgress('');
  if (!answer.result) throw new Error(answer.says ?? 'There is no result.');
  process.stdout.write(`${textOf(answer.result).join('\n')}\n`);
}

function textOf(result: ReplayResultAnswer): string[] {
  const format = new Intl.DateTimeFormat('en-GB', {
    timeZone: result.site.timeZone,
    dateStyle: 'short',
    timeStyle: 'medium',
  });
  const { answer, differences, limits } = replaySentences(result, (instant) => format.format(instant / 1000));
  return [
    `${result.site.name}, ${result.from} to ${result.to}; times below in ${result.site.timeZone}`,
    answer,
    ...differences.map(({ text, leans }) => `- ${text}${leans === null ? '' : ` ${leans}`}`),
    ...(limits.length > 0 ? ['', 'What the record can’t say:', ...limits.map((line) => `- ${line}`)] : []),
  ];
}
