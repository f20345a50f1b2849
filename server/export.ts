import { createWriteStream } from 'node:fs';
import { rename, rm } from 'node:fs/promises';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import type { ReadableStream } from 'node:stream/web';
import { openAnswer } from './ask-server.ts';
import { runCommand, say, showProgress } from './command.ts';
import { readExportArguments, type ExportArguments } from './transfer/command-arguments.ts';

/** `npm run export -- …`: a site's samples or events from a running server into a file, which has its name once it is whole. */
await runCommand(readExportArguments(process.argv.slice(2)), run);

async function run({ api, path, file }: ExportArguments): Promise<void> {
  const answer = await openAnswer(api, 'GET', path);
  const from = Readable.fromWeb(answer.body as ReadableStream<Uint8Array>);
  if (file === null) return pipeline(from, counted, process.stdout, { end: false });
  const part = `${file}.part`;
  try {
    await pipeline(from, counted, createWriteStream(part));
  } catch (error) {
    await rm(part, { force: true });
    throw new Error('The answer broke off; nothing was kept. Ask again.', { cause: error });
  }
  await rename(part, file);
  say(`${file} is whole.`);
}

async function* counted(chunks: AsyncIterable<Buffer>): AsyncGenerator<Buffer> {
  let bytes = 0;
  for await (const chunk of chunks) {
    bytes += chunk.length;
    showProgress(`${(bytes / 1e6).toFixed(1)} MB`);
    yield chunk;
  }
  showProgress('');
}
