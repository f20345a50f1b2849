import { retryReason } from '../../db/sqlstate.ts';
import type { FastifyError, FastifyInstance, FastifyReply } from 'fastify';
import type { ProblemCode } from '../../shared/wire/problem.ts';
import type { Fault } from '../../shared/wire/configuration.ts';
import { Refusal, problemOf } from './refusal.ts';

/** Every "no" leaves here, and all in one form. */
export function answerErrors(app: FastifyInstance): void {
  app.setErrorHandler((error: FastifyError | Refusal, request, reply) => {
    if (error instanceof Refusal)
      return send(reply.headers(error.headers), error.code, error.message, error.faults);
    if (error.validation) return send(reply, 'bad-request', whatIsWrong(error), faultsOf(error));
    if (retryReason(error) !== null)
      return send(reply, 'not-ready', 'The database can’t be reached just now. Try again in a moment.');
    const code = BY_STATUS[error.statusCode ?? 500];
    if (code && code !== 'went-wrong') return send(reply, code, sentence(error.message));
    request.log.error({ err: error, url: request.url }, 'a request failed');
    return send(
      reply,
      'went-wrong',
      'The request was understood, but answering it failed. It is in the log.',
    );
  });
}

const BY_STATUS: Readonly<Record<number, ProblemCode>> = {
  400: 'bad-request',
  401: 'not-signed-in',
  403: 'not-permitted',
  404: 'not-found',
  405: 'not-allowed-here',
  409: 'conflict',
  413: 'too-large',
  415: 'wrong-media-type',
  429: 'too-many-requests',
  503: 'not-ready',
};

function send(
  reply: FastifyReply,
  code: ProblemCode,
  detail: string,
  faults: readonly Fault[] = [],
): FastifyReply {
  const problem = problemOf(code, detail, faults);
  return reply.code(problem.status).type('application/problem+json').send(problem);
}

const sentence = (text: string): string => (text.endsWith('.') ? text : `${text}.`);

const PLACES: Readonly<Record<string, string>> = {
  querystring: 'query',
  params: 'path',
  headers: 'headers',
  body: 'body',
};

function whatIsWrong(error: FastifyError): string {
  const place = PLACES[error.validationContext ?? 'body'] ?? 'request';
  return `The ${place} isn’t as described in /api/openapi.json.`;
}

const faultsOf = (error: FastifyError): Fault[] =>
  (error.validation ?? []).map(({ instancePath, message }) => ({
    pointer: instancePath,
    message: sentence(message ?? 'isn’t allowed here'),
  }));
