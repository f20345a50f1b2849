import type { BrokerRefusal } from './refusal-book.ts';

/**
 * Reads refusals out of Mosquitto's log (its lines as of 2.0). It says of a refusal neither user nor reason, but what came
 * just before does: where the connection came from, what OpenSSL said, as whom a client came. Lines of connections that
 * come at once may stand between each other: then the address may be another's that knocked in the same moment.
 * `Denied PUBLISH` and a refusal's address need `log_type all` (or `debug`).
 */
const CLIENTS_BOUND = 10_000;

interface Known {
  readonly address: string;
  readonly username: string;
}

export class BrokerLog {
  readonly #clients = new Map<string, Known>();
  #address = '';
  #tls: string | null = null;

  /** What the line tells; null: no refusal. */
  read(line: string): BrokerRefusal | null {
    const text = line.replace(/^\S*\d: /, ''); // its time, in whatever form
    return this.#noted(text) ? null : this.#refusal(text);
  }

  #noted(text: string): boolean {
    const from =
      /^New connection from (.+):\d+ on port \d+\.$/.exec(text) ??
      /^Sending CONNACK to (\S+) \(0, 5\)/.exec(text);
    if (from) {
      this.#address = plain(from[1]!);
      return true;
    }
    const error = /^OpenSSL Error\[\d+\]: (.*)$/.exec(text);
    if (error) {
      this.#tls = error[1]!;
      return true;
    }
    const client = /^New client connected from (.+):\d+ as (\S+) \(.*?(?:, u'(.*)')?\)\.$/.exec(text);
    if (!client) return false;
    const [, address = '', id = '', username = ''] = client;
    this.#clients.delete(id);
    this.#clients.set(id, { address: plain(address), username });
    if (this.#clients.size > CLIENTS_BOUND) this.#clients.delete(this.#clients.keys().next().value!);
    return true;
  }

  #refusal(text: string): BrokerRefusal | null {
    const denied = /^Denied PUBLISH from (\S+) \(.*?, '(.*)', \.\.\. /.exec(text);
    if (denied) return this.#of(denied[1]!, 'publish-elsewhere', denied[2]!);
    // its first bytes were there at once, and no handshake could begin
    const failed = /^Client connection from (\S+) failed: (.*)\.$/.exec(text);
    if (failed) {
      this.#address = plain(failed[1]!);
      return this.#withoutTls(failed[2]!);
    }
    const gone = /^Client (.+) disconnected[,:] (.*)\.$/.exec(text);
    if (!gone) return null;
    const [, client = '', reason = ''] = gone;
    const tls = this.#tls;
    this.#tls = null;
    if (reason === 'not authorised') {
      // one that was in: its password was revoked
      return client === '<unknown>' ? this.#stranger('not-authorised', '') : this.#of(client, 'revoked', '');
    }
    return tls === null || client !== '<unknown>' ? null : this.#withoutTls(tls);
  }

  /** `tls`: what OpenSSL said */
  #withoutTls(tls: string): BrokerRefusal {
    if (/wrong version number|http request|packet length too long/.test(tls))
      return this.#stranger('no-tls', tls);
    return this.#stranger(/certificate/.test(tls) ? 'certificate-refused' : 'tls-failed', tls);
  }

  #of(client: string, why: BrokerRefusal['why'], detail: string): BrokerRefusal {
    const { address, username } = this.#clients.get(client) ?? { address: '', username: '' };
    return { why, username, address, client, detail };
  }

  #stranger(why: BrokerRefusal['why'], detail: string): BrokerRefusal {
    return { why, username: '', address: this.#address, client: '', detail };
  }
}

const plain = (address: string): string => address.replace(/^::ffff:/, '');
