import { createPrivateKey, X509Certificate } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { instantFromMilliseconds, type Instant } from '../../shared/base/instant.ts';

/** Where the embedded broker listens with TLS, and the files of its certificate. */
export interface TlsPlace {
  readonly host: string;
  /** 0: any free one */
  readonly port: number;
  /** PEM: the broker's certificate, and those between it and the authority that gateways trust */
  readonly certFile: string;
  /** PEM, without a passphrase */
  readonly keyFile: string;
}

export interface BrokerCertificate {
  readonly cert: string;
  readonly key: string;
  readonly endsAt: Instant;
}

/** Says which file is wrong, and how, before anything listens. */
export async function readBrokerCertificate({ certFile, keyFile }: TlsPlace): Promise<BrokerCertificate> {
  const cert = await readFrom('MQTT_TLS_CERT', certFile);
  const key = await readFrom('MQTT_TLS_KEY', keyFile);
  const certificate = understood(
    'MQTT_TLS_CERT',
    certFile,
    'a certificate in PEM',
    () => new X509Certificate(cert),
  );
  const privateKey = understood('MQTT_TLS_KEY', keyFile, 'a private key in PEM without a passphrase', () =>
    createPrivateKey(key),
  );
  if (!certificate.checkPrivateKey(privateKey))
    throw new Error(`MQTT_TLS_KEY (${keyFile}) isn’t the key of MQTT_TLS_CERT (${certFile}).`);
  return { cert, key, endsAt: instantFromMilliseconds(Date.parse(certificate.validTo)) };
}

async function readFrom(variable: string, file: string): Promise<string> {
  try {
    return await readFile(file, 'utf8');
  } catch (cause) {
    throw new Error(`${variable} is ${file}, which can’t be read: ${(cause as Error).message}`, { cause });
  }
}

function understood<T>(variable: string, file: string, what: string, read: () => T): T {
  try {
    return read();
  } catch (cause) {
    throw new Error(`${variable} (${file}) isn’t ${what}: ${(cause as Error).message}`, { cause });
  }
}
