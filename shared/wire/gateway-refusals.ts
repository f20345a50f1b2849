/**
 * Why a broker turned a gateway away, and what is to be done about it: one table for the log, the page and the counters. The
 * embedded broker tells them apart; another broker's log only in part (`not-authorised`, `certificate-refused`).
 */
const WHYS = {
  'no-credentials': [
    'gave neither user nor certificate',
    'Make a credential for it here, and enter it in the gateway.',
  ],
  'unknown-user': [
    'gave a user that isn’t known',
    'Compare the user in the gateway with the one shown here.',
  ],
  'wrong-password': [
    'gave a wrong password',
    'A password is shown once: make a new one, and enter that in the gateway.',
  ],
  revoked: ['gave a credential that was revoked', 'Make a new one if the gateway is to come back.'],
  ended: ['gave a credential that has given way to a newer one', 'Enter the newer one in the gateway.'],
  'takes-certificate': [
    'gave a password for a user that shows itself by a certificate',
    'Let the gateway use its certificate, or make a password for it.',
  ],
  'certificate-unknown': [
    'showed a certificate that isn’t known',
    'Add the certificate here if it is this gateway’s.',
  ],
  'certificate-expired': [
    'showed a certificate that has expired',
    'Have a new one made for the gateway, and add it here.',
  ],
  'certificate-not-yet': [
    'showed a certificate that isn’t valid yet',
    'Look at the clocks of this machine and of who made the certificate.',
  ],
  'certificate-refused': [
    'couldn’t agree with the broker on a certificate',
    'It may have expired, be of another authority, or be missing: what the broker said stands beside it.',
  ],
  'no-tls': [
    'spoke without TLS to a port that asks for it',
    'Switch TLS on in the gateway, with the port and the authority’s certificate shown here.',
  ],
  'tls-failed': [
    'couldn’t begin TLS',
    'What went wrong stands beside it; most often the gateway doesn’t trust the broker’s certificate.',
  ],
  'not-authorised': [
    'was refused by the broker',
    'User or password is missing, wrong or revoked: this broker doesn’t say which.',
  ],
  'client-id-taken': [
    'gave the client id of another that is connected',
    'Give each gateway a client id of its own.',
  ],
  'publish-elsewhere': [
    'published to a topic that isn’t its own',
    'Set the topic in the gateway to one shown here. What it published there was dropped.',
  ],
  'subscribe-elsewhere': [
    'asked for topics that aren’t its own',
    'A gateway hears its own site’s topics alone.',
  ],
} as const satisfies Readonly<Record<string, readonly [says: string, help: string]>>;

export type RefusalWhy = keyof typeof WHYS;
export const REFUSAL_WHYS = Object.keys(WHYS) as readonly RefusalWhy[];

/** In words that follow who it was: "gave a wrong password". */
export const refusalSays = (why: RefusalWhy): string => WHYS[why][0];
export const refusalHelp = (why: RefusalWhy): string => WHYS[why][1];
