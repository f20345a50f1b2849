import { formatInstant, parseInstant } from '../../../shared/base/instant.ts';
import type { Problem } from '../../../shared/wire/problem.ts';
import { keptNote } from '../page/kept-note.svelte.ts';
import { FROM_CACHE } from './kept.ts';
import { serverClock } from './server-clock.svelte.ts';
import { sayShutOut } from './shut-out.ts';

/** What the server answered instead of an answer (RFC 9457), or that it couldn't be reached (status 0). */
export class Refused extends Error {
  readonly status: number;
  /** the particular alone, without what kind of "no" it is */
  readonly detail: string;
  /** what was wrong with which part of what was sent */
  readonly faults: NonNullable<Problem['faults']>;
  constructor(status: number, says: string, faults: NonNullable<Problem['faults']> = [], detail = says) {
    super(says);
    this.status = status;
    this.detail = detail;
    this.faults = faults;
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
  if (!response.ok) throw await refusalOf(response);
  const answer = (await response.json()) as A;
  const keptAt = parseInstant(response.headers.get(FROM_CACHE) ?? '');
  keptNote.heard(keptAt);
  return keptAt === null ? answer : withTimeNow(answer);
}

/** What was kept on this device can't tell what time it is at the server now. */
const withTimeNow = <A>(answer: A): A =>
  typeof answer === 'object' && answer !== null && 'serverTime' in answer
    ? { ...answer, serverTime: formatInstant(serverClock.exactly()) }
    : answer;

/** Sends a wish; an answer without a body is null. */
export async function sendJson<A>(
  method: 'POST' | 'PUT' | 'DELETE',
  path: string,
  body?: unknown,
  { signal, headers = {} }: { signal?: AbortSignal; headers?: Readonly<Record<string, string>> } = {},
): Promise<A> {
  const content = body === undefined ? {} : { body: JSON.stringify(body) };
  const response = await reach(`/api${path}`, signal, { method, headers, ...content });
  if (!response.ok) throw await refusalOf(response);
  return (response.status === 204 ? null : await response.json()) as A;
}

async function reach(url: string, signal?: AbortSignal, sent: RequestInit = {}): Promise<Response> {
  const type = sent.body === undefined ? {} : { 'content-type': 'application/json' };
  const headers = { accept: 'application/json', ...type, ...(sent.headers as Record<string, string>) };
  try {
    return await fetch(url, { ...sent, headers, ...(signal ? { signal } : {}) });
  } catch (error) {
    if (signal?.aborted) throw error;
    throw new Refused(0, 'The server can’t be reached from here.');
  }
}

async function refusalOf(response: Response): Promise<Refused> {
  if (response.status === 401) sayShutOut();
  try {
    const { title, detail, faults = [] } = (await response.json()) as Problem;
    const said = [title, detail].filter(Boolean).join(': ');
    const says = [said, ...faults.map(({ message }) => message)].join(' ');
    return new Refused(response.status, says, faults, detail);
  } catch {
    return new Refused(response.status, `The server answered ${response.status}.`);
  }
}
