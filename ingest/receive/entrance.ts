import { X509Certificate } from 'node:crypto';
import type { Duplex } from 'node:stream';
import type { TLSSocket } from 'node:tls';

/** How a connection came in, for as long as it lasts. */
export interface Entrance {
  /** by the loopback port, without TLS */
  readonly isPlain: boolean;
  readonly address: string;
  /** what the client showed and proved to have the key of; null: none */
  readonly certificate: ShownCertificate | null;
}

export interface ShownCertificate {
  /** SHA-256 of its DER */
  readonly fingerprint: Buffer;
  readonly subject: string;
  readonly from: number;
  readonly until: number;
}

const entrances = new WeakMap<Duplex, Entrance>();

export const noteEntrance = (stream: Duplex, entrance: Entrance): void =>
  void entrances.set(stream, entrance);

export const entranceOf = (stream: Duplex): Entrance =>
  entrances.get(stream) ?? { isPlain: false, address: '', certificate: null };

/** After the handshake, in which the client signed with the certificate's key; its issuer isn't asked. */
export function shownCertificate(socket: TLSSocket): ShownCertificate | null {
  const { raw } = socket.getPeerCertificate();
  if (!raw) return null;
  const certificate = new X509Certificate(raw);
  return {
    fingerprint: Buffer.from(certificate.fingerprint256.replaceAll(':', ''), 'hex'),
    subject: certificate.subject,
    from: Date.parse(certificate.validFrom),
    until: Date.parse(certificate.validTo),
  };
}
