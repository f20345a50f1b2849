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

async function reach(url: string, signal?: AbortSignal): Promise<Response> {
  try {
    return await fetch(url, { headers: { accept: 'application/json' }, ...(signal ? { signal } : {}) });
  } catch (error) {
    if (signal?.aborted) throw error;
    throw new Refused(0, 'The server can’t be reached from here.');
  }
}

async function saying(response: Response): Promise<string> {
  try {
    const problem = (await response.json()) as Problem;
    return [problem.title, problem.detail].filter(Boolean).join(': ');
  } catch {
    return `The server answered ${response.status}.`;
  }
}
