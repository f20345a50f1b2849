import { endProgram, heard, startProgram } from './process.ts';
import type { Load } from './messages.ts';
import type { PublisherSays } from './publisher.ts';

export interface Published {
  /** until the last acknowledgement */
  readonly seconds: number;
  /** for this share of the time the publisher had to wait for the other side: its spare capacity */
  readonly waitingShare: number;
}

/** Publishes a load; `go` is called at the moment when the publisher is let off. */
export async function publish(port: number, load: Load, go: () => unknown = () => {}): Promise<Published> {
  const publisher = startProgram('publisher.ts', { port, load });
  await heard<PublisherSays>(publisher);
  const done = heard<PublisherSays>(publisher);
  go();
  publisher.send('go');
  const said = await done;
  if (said.kind !== 'done') throw new Error('the publisher said something else');
  return said;
}

/** The publisher's own greatest rate, in messages a second: against a sink that acknowledges everything at once. */
export async function greatestRate(load: Load): Promise<number> {
  const sink = startProgram('sink.ts');
  const { port } = await heard<{ port: number }>(sink);
  const { seconds } = await publish(port, load);
  await endProgram(sink);
  return load.messages / seconds;
}
