import { formatInstant, SECOND } from '../shared/base/instant.ts';
import { readArguments, type SimulateArguments } from './demo/simulate-arguments.ts';
import { simulate } from './demo/simulate-scenario.ts';

/** `npm run simulate -- <scenario>`: publishes a scripted building over MQTT. */
const now = (): number => Date.now() * 1000;
const say = (line: string): void => void process.stderr.write(`${line}\n`);

const read = readArguments(process.argv.slice(2), now());
if (!read.ok) {
  say(read.help);
  process.exitCode = 2;
} else if (read.value.documents) {
  printDocuments(read.value);
} else {
  await run(read.value);
}

function printDocuments({ scenario, suffix }: SimulateArguments): void {
  const documents = Object.fromEntries(scenario.buildings.map((each) => [each.site + suffix, each.document]));
  process.stdout.write(`${JSON.stringify(documents, null, 2)}\n`);
}

async function run(asked: SimulateArguments): Promise<void> {
  const stop = new AbortController();
  for (const signal of ['SIGINT', 'SIGTERM'] as const) process.once(signal, () => stop.abort());
  try {
    if (asked.api !== null) await putDocuments(asked, asked.api);
    const from = formatInstant(asked.start);
    const to = formatInstant(asked.start + asked.seconds * SECOND);
    say(`${asked.scenario.title}: ${from} to ${to}, to ${asked.brokerUrl}`);
    const report = await simulate(asked, now, stop.signal, say);
    say(`${report.samples} samples in ${report.messages} messages${stop.signal.aborted ? ', stopped' : ''}`);
  } catch (error) {
    say(error instanceof Error ? error.message : String(error));
    process.exitCode = 1;
  }
}

async function putDocuments({ scenario, suffix }: SimulateArguments, api: string): Promise<void> {
  const token = process.env['BOOTSTRAP_TOKEN'];
  for (const { site, document } of scenario.buildings) {
    const url = new URL(`/api/sites/${site}${suffix}?from=always`, api);
    const answer = await fetch(url, {
      method: 'PUT',
      headers: { 'content-type': 'application/json', ...(token ? { authorization: `Bearer ${token}` } : {}) },
      body: JSON.stringify(document),
    }).catch((error: unknown) => {
      const why = error instanceof Error && error.cause ? error.cause : error;
      throw new Error(`nobody answers at ${url.origin}: ${String(why)}`);
    });
    if (!answer.ok)
      throw new Error(`${url.href} refused the document (${answer.status}): ${await answer.text()}`);
  }
}
