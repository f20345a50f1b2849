import type { Problem } from '../shared/wire/problem.ts';

/** How commands ask a running server; a "no" becomes an error that says what the server said. */
export async function askServer<A>(api: string, method: string, path: string, body?: unknown): Promise<A> {
  const text = await (await openAnswer(api, method, path, body)).text();
  return (text === '' ? null : JSON.parse(text)) as A;
}

/** The answer before it is read. `BOOTSTRAP_TOKEN` is sent where it is set. */
export async function openAnswer(
  api: string,
  method: string,
  path: string,
  body?: unknown,
): Promise<Response> {
  const token = process.env['BOOTSTRAP_TOKEN'];
  const url = new URL(path, api);
  const response = await fetch(url, {
    method,
    headers: {
      ...(body === undefined ? {} : { 'content-type': 'application/json' }),
      ...(token ? { authorization: `Bearer ${token}` } : {}),
    },
    ...(body === undefined ? {} : { body: JSON.stringify(body) }),
  }).catch((error: unknown) => {
    const why = error instanceof Error && error.cause ? error.cause : error;
    throw new Error(`Nobody answers at ${url.origin}: is the server running there? (${String(why)})`);
  });
  if (response.ok) return response;
  throw new Error(refusalText(await response.text(), response.status));
}

function refusalText(text: string, status: number): string {
  try {
    const { detail, faults = [] } = JSON.parse(text) as Problem;
    return [detail, ...faults.map(({ pointer, message }) => `  ${pointer}: ${message}`)].join('\n');
  } catch {
    return `The server answered ${status}.`;
  }
}
