import type { FastifyInstance } from 'fastify';
import Type from 'typebox';
import { acceptBy, readLinkOf, type Link } from '../notify/accept.ts';
import { isDrill } from '../notify/drill-message.ts';
import type { Service } from '../service.ts';
import type { App } from './app.ts';

/**
 * The link in a message, outside the API: works signed out for exactly one alarm and nothing else. GET changes nothing, for
 * whatever scans mail opens it; it shows one button, and the button posts. No script, nothing that is kept anywhere, and no
 * address that leaks it onwards.
 */
const schema = { hide: true, params: Type.Object({ link: Type.String({ maxLength: 40 }) }) };
const TRIES_A_MINUTE = 30;

export async function acceptRoutes(app: App, service: Service): Promise<void> {
  await app.register(
    (scope, _, done) => {
      routes(scope.withTypeProvider() as unknown as App, service);
      done();
    },
    { prefix: '/a' },
  );
}

function routes(app: App, service: Service): void {
  // the button's form carries nothing but itself
  (app as unknown as FastifyInstance).addContentTypeParser(
    'application/x-www-form-urlencoded',
    { bodyLimit: 1024 },
    (_request, payload, done) => {
      payload.resume();
      done(null, {});
    },
  );
  const rateLimit = { max: TRIES_A_MINUTE, timeWindow: '1 minute' };
  app.get('/page.css', { schema: { hide: true } }, (_, reply) =>
    reply.type('text/css; charset=utf-8').header('cache-control', 'max-age=3600').send(STYLE),
  );
  app.get('/:link', { schema, config: { rateLimit } }, async ({ params }, reply) => {
    const link = await readLinkOf(service, params.link);
    return page(reply, link.kind === 'good' ? 200 : 404, lookOf(link));
  });
  app.post(
    '/:link',
    { schema, config: { rateLimit, action: 'accept-by-link' } },
    async ({ params, audited }, reply) => {
      const link = await readLinkOf(service, params.link);
      if (link.kind !== 'good') return page(reply, 404, lookOf(link));
      const { alarm, person, personName } = link.row;
      audited.actor = { kind: 'person', id: person, name: personName };
      audited.detail = { alarm, by: 'link' };
      if (!(await acceptBy(service, link))) return page(reply, 503, BUSY);
      return page(reply, 200, lookOf(await readLinkOf(service, params.link)));
    },
  );
}

interface Look {
  readonly title: string;
  readonly lines: readonly string[];
  /** the button's words; null: there is nothing to press */
  readonly button: string | null;
}

const BUSY: Look = { title: 'Not accepted yet', lines: ['Go back and press it again.'], button: null };

/** What is said of a link; who owns the alarm is said without a name to whoever isn't that person. */
function lookOf(link: Link): Look {
  switch (link.kind) {
    case 'wrong':
      return { title: 'This link leads nowhere', lines: ['Copy it whole, or sign in.'], button: null };
    case 'expired':
      return {
        title: 'This link has expired',
        lines: ['Sign in to see the alarm as it is now.'],
        button: null,
      };
    case 'good': {
      const { row, escalation } = link;
      if (isDrill(row.alarm)) return lookOfTest(row.personName, escalation.state === 'over');
      if (escalation.state === 'over')
        return { title: 'It is over', lines: ['Nobody needs to accept it any more.'], button: null };
      if (escalation.owner === row.person)
        return {
          title: 'It is yours',
          lines: [`Accepted by ${row.personName}. Nobody else is called.`],
          button: null,
        };
      const lines = [
        `${row.personName}: whoever accepts goes on with it, and nobody else is called.`,
        ...(escalation.owner === null ? [] : ['Somebody else has it now; accepting takes it over.']),
      ];
      return { title: 'Nobody has accepted this alarm yet', lines, button: 'Accept' };
    }
  }
}

const lookOfTest = (name: string, isOver: boolean): Look =>
  isOver
    ? {
        title: 'TEST answered',
        lines: ['It was a test. Nothing has happened, and nobody needs to come.'],
        button: null,
      }
    : {
        title: 'TEST: nothing has happened',
        lines: [`${name}: whoever proves the site’s wiring wants to know that this reaches you.`],
        button: 'Answer the test',
      };

interface Replies {
  code(status: number): Replies;
  type(type: string): Replies;
  header(name: string, value: string): Replies;
  send(text: string): unknown;
}

const page = (reply: Replies, status: number, { title, lines, button }: Look): unknown =>
  reply
    .code(status)
    .type('text/html; charset=utf-8')
    .header('cache-control', 'no-store')
    .header('referrer-policy', 'no-referrer')
    .header('x-robots-tag', 'noindex')
    .send(
      `<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>${escaped(title)}</title><link rel="stylesheet" href="/a/page.css">
<main><h1>${escaped(title)}</h1>${lines.map((line) => `<p>${escaped(line)}</p>`).join('')}
${button === null ? '' : `<form method="post"><button>${escaped(button)}</button></form>`}</main></html>\n`,
    );

const MARKS: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
};
const escaped = (text: string): string => text.replace(/[&<>"']/g, (mark) => MARKS[mark]!);

const STYLE = `:root { color-scheme: light dark; }
body { font: 1.125rem/1.5 system-ui, sans-serif; margin: 0; }
main { max-width: 32rem; margin: 0 auto; padding: 2rem 1rem; }
h1 { font-size: 1.5rem; line-height: 1.2; }
button { font: inherit; font-weight: 600; min-height: 3.5rem; width: 100%; }
`;
