import type { MessageBody } from '../../db/notices.ts';
import { errorLine, type Channel, type Sent } from './channel.ts';

/**
 * Short messages and calls through whatever gateway speaks HTTP: a template of an address and a body in which `{to}`, `{text}` and
 * `{id}` stand for the number, the text (160 places, or what is read aloud) and the message's lasting id. In the address they are percent-encoded, in a
 * JSON body escaped.
 */
export interface GatewayOptions {
  readonly url: string;
  /** null: GET with everything in the address */
  readonly body: string | null;
  /** the whole value of the Authorization header; null: none */
  readonly authorization: string | null;
}

const TIMEOUT_MS = 15_000;
const MARKS = /\{(to|text|id)\}/g;

export const makeShortMessage = (options: GatewayOptions): Channel =>
  makeGateway(options, ({ short }) => short);

export const makeVoice = (options: GatewayOptions): Channel =>
  makeGateway(options, ({ spoken, subject }) => spoken ?? subject);

function makeGateway(options: GatewayOptions, textOf: (body: MessageBody) => string): Channel {
  const stopping = new AbortController();
  return {
    async send({ to, delivery }) {
      const values = { to: to.address, text: textOf(delivery.body), id: delivery.messageId };
      try {
        const response = await fetch(filled(options.url, values, encodeURIComponent), {
          method: options.body === null ? 'GET' : 'POST',
          redirect: 'manual',
          headers: {
            ...(options.body === null ? {} : { 'content-type': 'application/json' }),
            ...(options.authorization === null ? {} : { authorization: options.authorization }),
          },
          ...(options.body === null ? {} : { body: filled(options.body, values, inJson) }),
          signal: AbortSignal.any([stopping.signal, AbortSignal.timeout(TIMEOUT_MS)]),
        });
        await response.body?.cancel();
        return sentBy(response);
      } catch (error) {
        return { kind: 'later', answer: errorLine((error as Error).cause ?? error) };
      }
    },
    close: () => {
      stopping.abort();
      return Promise.resolve();
    },
  };
}

type Values = Readonly<Record<'to' | 'text' | 'id', string>>;

export const filled = (template: string, values: Values, write: (value: string) => string): string =>
  template.replace(MARKS, (_, name: keyof Values) => write(values[name]));

export const inJson = (value: string): string => JSON.stringify(value).slice(1, -1);

/** A gateway that calls the request wrong will call it wrong again; one that is busy or broken may not. */
function sentBy({ ok, status, statusText }: Response): Sent {
  const answer = `${status} ${statusText}`.trim();
  if (ok) return { kind: 'accepted', answer };
  return { kind: [400, 404, 422].includes(status) ? 'never' : 'later', answer };
}
