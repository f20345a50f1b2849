import { lookup as resolve, type LookupAddress, type LookupOptions } from 'node:dns';
import { BlockList, isIP, isIPv6 } from 'node:net';

/**
 * Where this server may be made to call by somebody who may only keep their own channels: out to the public network over
 * HTTPS, and neither to itself nor to its neighbours. The address is looked at when the connection is made, so that a name
 * can't be turned round in between.
 */
const NOT_PUBLIC = new BlockList();
// what isn't globally reachable in IANA's special-purpose address registry (RFC 6890), multicast and what is reserved
for (const [network, bits] of [
  ['0.0.0.0', 8],
  ['10.0.0.0', 8],
  ['100.64.0.0', 10],
  ['127.0.0.0', 8],
  ['169.254.0.0', 16],
  ['172.16.0.0', 12],
  ['192.0.0.0', 24],
  ['192.0.2.0', 24],
  ['192.88.99.0', 24],
  ['192.168.0.0', 16],
  ['198.18.0.0', 15],
  ['198.51.100.0', 24],
  ['203.0.113.0', 24],
  ['224.0.0.0', 3],
] as const)
  NOT_PUBLIC.addSubnet(network, bits, 'ipv4');
// of what is allotted to the public (2000::/3): tunnels that hold another address, and documentation
for (const [network, bits] of [
  ['2001::', 23],
  ['2001:db8::', 32],
  ['2002::', 16],
] as const)
  NOT_PUBLIC.addSubnet(network, bits, 'ipv6');

export function isPublicAddress(address: string): boolean {
  if (!isIPv6(address)) return isIP(address) === 4 && !NOT_PUBLIC.check(address, 'ipv4');
  return /^[23][0-9a-f]{3}:/i.test(address) && !NOT_PUBLIC.check(address, 'ipv6');
}

/** Why an address of the web isn't called; null: its name may be looked up, and what it stands for is held against the same. */
export function refusedUrl(text: string): string | null {
  const url = URL.canParse(text) ? new URL(text) : null;
  if (url?.protocol !== 'https:' || url.username !== '' || url.password !== '')
    return 'It has to begin with https://, with no name or password in it.';
  const host = url.hostname.replace(/^\[|\]$/g, '');
  const isWrong = isIP(host) === 0 ? !host.includes('.') : !isPublicAddress(host);
  return isWrong ? 'It leads to this machine or to a private network.' : null;
}

type Found = (error: Error | null, address: string | LookupAddress[], family?: number) => void;

/** For a request's `lookup`: every address that a name stands for has to be public. */
export function publicLookup(host: string, options: LookupOptions, found: Found): void {
  resolve(host, { ...options, all: true }, (error, addresses) => {
    if (error) return found(error, []);
    const wrong = addresses.find(({ address }) => !isPublicAddress(address));
    if (wrong) return found(new Error(`${host} leads to a private network: ${wrong.address}`), []);
    const [first] = addresses;
    if (options.all || !first) return found(null, addresses);
    found(null, first.address, first.family);
  });
}
