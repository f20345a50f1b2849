import Type from 'typebox';
import { Problem } from '../../shared/wire/problem.ts';
import type { Accounts } from '../accounts/accounts.ts';
import { PROVIDER_SECONDS, signInAs, type Provider } from '../accounts/provider.ts';
import { fromOf, welcome } from './account-routes.ts';
import type { App } from './app.ts';
import { cookieIn, providerCookie } from './cookie.ts';
import { Refusal } from './refusal.ts';

/** Signing in at the provider of identities: there, and back. Both leave a row in the audit trail. */
export function providerRoutes(app: App, accounts: Accounts, provider: Provider | null): void {
  const begin = { response: { 200: Type.Object({ url: Type.String() }), 404: Problem, 503: Problem } };
  const config = { action: 'sign-in', isChange: true } as const;
  app.post('/account/provider/start', { schema: begin, config }, async (request, reply) => {
    if (!provider) throw new Refusal('not-found', 'No provider of identities is set up here.');
    const { url, kept } = await provider.begin().catch((error: unknown) => {
      request.log.warn({ err: error }, 'the provider of identities can’t be reached');
      throw new Refusal('not-ready', `${provider.name} can’t be reached just now. Try again in a moment.`);
    });
    return reply
      .header('set-cookie', providerCookie(kept, request.headers.host, PROVIDER_SECONDS))
      .send({ url });
  });

  const back = { response: { 302: Type.Null(), 404: Problem } };
  app.get('/account/provider/callback', { schema: back, config }, async (request, reply) => {
    if (!provider) throw new Refusal('not-found', 'No provider of identities is set up here.');
    const { host, cookie } = request.headers;
    void reply.header('set-cookie', providerCookie(null, host, 0));
    const kept = cookieIn('provider', cookie, host);
    const identity = await (
      kept === null
        ? Promise.reject(new Error('the browser didn’t begin this'))
        : provider.finish(request.url.split('?')[1] ?? '', kept)
    ).catch((error: unknown) => {
      request.log.warn({ err: error }, 'signing in at the provider failed');
      return null;
    });
    if (identity === null) return reply.redirect('/?sign-in=failed');
    request.audited.detail = { issuer: identity.issuer };
    const signed = await signInAs(accounts, identity, fromOf(request));
    if (!signed) return reply.redirect('/?sign-in=unknown');
    welcome(request, reply, signed.person, signed.secret);
    return reply.redirect('/');
  });
}
