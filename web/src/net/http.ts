import type { Problem } from '../../../shared/wire/problem.ts';

/** What the server answered instead of an answer (RFC 9457), or that it couldn't be reached (status 0). */
export class Refused extends Error {
  readonly status: number;
  constructor(status: number, says: string) {
    super(says);
    this.status = status;
  }
}

export async function fetchAnswer<A>(
  path: string,
  words: Readonly<Record<string, string | number | null | undefined>> = {},
  signal?: AbortSignal,
): Promise<A> {
  const query = new URLSearchParams();
  for (const [name, value] of Object.entries(words))
    if (value !== null && value !== undefined) query.set(name, String(value));
  const text = query.toString();
  const response = await reach(`/api${path}${text ? `?${text}` : ''}`, signal);
  if (!response.ok) throw new Refused(response.status, await saying(response));
  return (await response.json()) as A;
}

/** Sends a wish; an answer without a body is null. */
export async function sendJson<A>(
  method: 'POST' | 'DELETE',
  path: string,
  body?: unknown,
  signal?: AbortSignal,
): Promise<A> {
  const content = body === undefined ? {} : { body: JSON.stringify(body) };
  const response = await reach(`/api${path}`, signal, { method, ...content });
  if (!response.ok) throw new Refused(response.status, await saying(response));
  return (response.status === 204 ? null : await response.json()) as A;
}

async function reach(url: string, signal?: AbortSignal, sent: RequestInit = {}): Promise<Response> {
  const type = sent.body === undefined ? {} : { 'content-type': 'application/json' };
  const headers = { accept: 'application/json', ...type };
  try {
    return await fetch(url, { ...sent, headers, ...(signal ? { signal } : {}) });
  } catch (error) {
    if (signal?.aborted) throw error;
    throw new Refused(0, 'The server can’t be reached from here.');
  }
}

async function saying(response: Response): Promise<string> {
  try {
    const { title, detail, faults = [] } = (await response.json()) as Problem;
    const said = [title, detail].filter(Boolean).join(': ');
    return [said, ...faults.map(({ message }) => message)].join(' ');
  } catch {
    return `The server answered ${response.status}.`;
  }
}
