import { createReadStream } from 'node:fs';
import { createInterface } from 'node:readline';
import { Readable } from 'node:stream';
import type { ReadableStream } from 'node:stream/web';
import type { EventAnswer } from '../shared/wire/event-answer.ts';
import type { ExportHead } from '../shared/wire/export-rows.ts';
import { readHead, type RowsHead } from '../shared/wire/import-lines.ts';
import type { ImportAnswer } from '../shared/wire/import-wire.ts';
import type { InferenceAnswer } from '../shared/wire/service.ts';
import { askServer, openAnswer } from './ask-server.ts';
import { runCommand, say, showProgress } from './command.ts';
import { readImportArguments, type ImportArguments } from './transfer/command-arguments.ts';
import { eventDifferences, type EventDifference } from './transfer/compare-events.ts';
import { importLines, type LineFault } from './transfer/import-file.ts';
import { SetAside } from './transfer/set-aside.ts';

/** So many faults are said one by one where the lines themselves are kept; a dry run says them all. */
const SAID = 100;

/** `npm run import -- <file>`: samples, intervals and waveforms back into a running server; a file of events is compared with what stands there. */
await runCommand(readImportArguments(process.argv.slice(2)), run);

async function run(asked: ImportArguments): Promise<void> {
  const input = createReadStream(asked.file);
  const lines = createInterface({ input, crlfDelay: Infinity })[Symbol.asyncIterator]();
  const first = await lines.next();
  if (first.done) throw new Error(`${asked.file} is empty.`);
  const head = readHead(first.value);
  const rest = { [Symbol.asyncIterator]: () => lines };
  if (head.kind === 'refused') throw new Error(`${asked.file} can’t be read. ${head.says}`);
  if (head.kind === 'events') return compareEvents(asked, head.head, rest);
  await takeRows(asked, { head, first: first.value, rest });
}

interface RowsFile {
  readonly head: RowsHead;
  readonly first: string;
  readonly rest: AsyncIterable<string>;
}

async function takeRows({ api, file, dryRun }: ImportArguments, { head, first, rest }: RowsFile) {
  const aside = new SetAside(file, first, head.format);
  let said = 0;
  const refused = async ({ number, line, says }: LineFault): Promise<void> => {
    if (dryRun || said++ < SAID) say(`line ${number}: ${says}`);
    if (!dryRun) await aside.add(line);
  };
  const progress = (count: number): void => showProgress(`${count} lines`);
  const send = (ask: unknown) => askServer<ImportAnswer>(api, 'POST', `/api/import/${head.holds}`, ask);
  try {
    const done = await importLines({ lines: rest, head, dryRun, send, refused, progress });
    const name = await aside.close();
    showProgress('');
    say(
      dryRun
        ? `${done.rows} rows: ${done.taken} could be taken, ${done.refused} couldn’t. Nothing was written.`
        : `${done.rows} rows: ${done.taken} taken, of which ${done.changed} were new or changed what was there; ${done.refused} set aside${name ? ` in ${name}` : ''}.`,
    );
    if (done.isWhole === false)
      say('The file has no closing line that agrees: its export may have been cut short.');
    if (done.refused > 0 || done.isWhole === false) process.exitCode = 1;
  } catch (error) {
    await aside.close();
    say('It broke off. What was taken stays; import the file again and only the rest is new.');
    throw error;
  }
}

async function compareEvents(
  { api, file }: ImportArguments,
  { site, from, to }: ExportHead,
  rest: AsyncIterable<string>,
): Promise<void> {
  const { pending } = await askServer<InferenceAnswer>(api, 'GET', `/api/inference?site=${site}`);
  if (pending > 0)
    throw new Error(`Inference is still at work there (${pending} wait): compare once nothing waits.`);
  const asked = new URLSearchParams({
    site,
    format: 'ndjson',
    ...(from ? { from } : {}),
    ...(to ? { to } : {}),
  });
  const answer = await openAnswer(api, 'GET', `/api/export/events?${asked.toString()}`);
  const input = Readable.fromWeb(answer.body as ReadableStream<Uint8Array>);
  const here = createInterface({ input, crlfDelay: Infinity });
  let count = 0;
  for await (const one of eventDifferences(eventsIn(rest, file), eventsIn(here, 'The answer'))) {
    count++;
    process.stdout.write(`${differenceText(one)}\n`);
  }
  say(
    count === 0
      ? 'The same events stand there.'
      : `${count} differ. Events follow from samples: none was taken in.`,
  );
  if (count > 0) process.exitCode = 1;
}

/** Those between the first line and the last, which says that the file is whole. */
async function* eventsIn(lines: AsyncIterable<string>, whose: string): AsyncGenerator<EventAnswer> {
  for await (const line of lines) {
    const found = JSON.parse(line) as EventAnswer & { holds?: string; end?: true };
    if (found.end === true) return;
    if (found.holds === undefined) yield found;
  }
  throw new Error(`${whose} has no closing line: it was cut short. Export it again.`);
}

function differenceText(difference: EventDifference): string {
  const { id, kind, unit, space, panel, start } = difference.event;
  const what = `${kind} of ${unit ?? space ?? panel ?? 'the site'}, ${start.latest} (${id})`;
  if (difference.kind === 'otherwise') return `otherwise there: ${what}: ${difference.fields.join(', ')}`;
  return `only ${difference.kind === 'only-here' ? 'there' : 'in the file'}: ${what}`;
}
