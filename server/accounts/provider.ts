import * as openid from 'openid-client';
import { bindIdentity, findIdentity, type IdentityKey } from '../../db/identities.ts';
import type { PersonRow } from '../../db/people.ts';
import { isLoopback } from '../loopback.ts';
import type { ProviderSettings } from '../settings.ts';
import type { Accounts } from './accounts.ts';
import { emailOf, openSession, type From } from './sessions.ts';

/**
 * Signing in at an organisation's provider of identities: OpenID Connect Core 1.0, authorization code flow with PKCE (RFC 7636),
 * state and nonce. Whoever comes back is found by issuer and subject; the first time by an address that the provider has
 * verified, and only among people whom an administrator has invited here.
 */
export interface Provider {
  readonly name: string;
  /** where the browser goes, and what it keeps until it comes back */
  begin(): Promise<{ readonly url: string; readonly kept: string }>;
  /** `query`: of the address that the provider sent the browser back to */
  finish(query: string, kept: string): Promise<Identity>;
}

export interface Identity extends IdentityKey {
  /** null: none, or the provider hasn't verified it */
  readonly email: string | null;
}

/** How long somebody may take at the provider. */
export const PROVIDER_SECONDS = 600;
const CALLBACK = 'api/account/provider/callback';

interface Kept {
  readonly state: string;
  readonly nonce: string;
  readonly verifier: string;
}

export function makeProvider(settings: ProviderSettings): Provider {
  const redirect = new URL(CALLBACK, settings.publicUrl);
  let discovered: Promise<openid.Configuration> | null = null;
  const configuration = () => (discovered ??= discover(settings).catch(forget));
  const forget = (error: unknown): never => {
    discovered = null; // asked again next time
    throw error;
  };
  return {
    name: settings.name,
    async begin() {
      const kept: Kept = {
        state: openid.randomState(),
        nonce: openid.randomNonce(),
        verifier: openid.randomPKCECodeVerifier(),
      };
      const url = openid.buildAuthorizationUrl(await configuration(), {
        redirect_uri: redirect.href,
        scope: 'openid email profile',
        state: kept.state,
        nonce: kept.nonce,
        code_challenge: await openid.calculatePKCECodeChallenge(kept.verifier),
        code_challenge_method: 'S256',
      });
      return { url: url.href, kept: Buffer.from(JSON.stringify(kept)).toString('base64url') };
    },
    async finish(query, text) {
      const { state, nonce, verifier } = JSON.parse(Buffer.from(text, 'base64url').toString()) as Kept;
      const back = new URL(redirect);
      back.search = query;
      const tokens = await openid.authorizationCodeGrant(await configuration(), back, {
        expectedState: state,
        expectedNonce: nonce,
        pkceCodeVerifier: verifier,
        idTokenExpected: true,
      });
      return identityOf(await configuration(), tokens);
    },
  };
}

const discover = ({ issuer, clientId, clientSecret }: ProviderSettings): Promise<openid.Configuration> => {
  const server = new URL(issuer);
  const insecure = server.protocol === 'http:' && isLoopback(server.hostname); // a test's; settings refuse any other
  return openid.discovery(
    server,
    clientId,
    undefined,
    clientSecret === null ? openid.None() : openid.ClientSecretBasic(clientSecret),
    { timeout: 10, execute: insecure ? [openid.allowInsecureRequests] : [] },
  );
};

type Tokens = Awaited<ReturnType<typeof openid.authorizationCodeGrant>>;

async function identityOf(configuration: openid.Configuration, tokens: Tokens): Promise<Identity> {
  const claims = tokens.claims()!;
  const key = { issuer: claims.iss, subject: claims.sub };
  if (claims['email'] !== undefined) return { ...key, email: verifiedIn(claims) };
  const more = await openid.fetchUserInfo(configuration, tokens.access_token, claims.sub);
  return { ...key, email: verifiedIn(more) };
}

const verifiedIn = (claims: Readonly<Record<string, unknown>>): string | null =>
  claims['email_verified'] === true && typeof claims['email'] === 'string' ? emailOf(claims['email']) : null;

/** null: nobody here is that one. */
export const signInAs = (
  { database, now }: Accounts,
  identity: Identity,
  from: From,
): Promise<{ readonly person: PersonRow; readonly secret: string } | null> =>
  database.transaction({ name: 'sign-in-by-provider' }, async (queries) => {
    const { email } = identity;
    const found = await findIdentity(queries, identity);
    const person = found ?? (email === null ? null : await bindIdentity(queries, identity, email, now()));
    return person && { person, secret: await openSession(queries, person.id, from, now()) };
  });
