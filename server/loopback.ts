import { isIP } from 'node:net';

/** 127.0.0.0/8, ::1 and the name `localhost`. */
export function isLoopback(host: string): boolean {
  if (host === 'localhost' || host === '::1' || host === '[::1]') return true;
  const address = host.replace(/^::ffff:/, '');
  return isIP(address) === 4 && address.startsWith('127.');
}
