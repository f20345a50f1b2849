import Type, { type Static } from 'typebox';

/**
 * What an expected "no" looks like (RFC 9457), and the catalogue of its codes. `type` is `/problems/<code>`;
 * DEVELOPERS.md describes each code, and a test holds the two together in both directions.
 */
export const PROBLEMS = {
  'bad-request': { status: 400, title: 'The request can’t be understood' },
  'not-signed-in': { status: 401, title: 'Sign in first' },
  'not-permitted': { status: 403, title: 'That isn’t yours to do' },
  'not-found': { status: 404, title: 'There is no such thing' },
  'not-allowed-here': { status: 405, title: 'That can’t be done here' },
  conflict: { status: 409, title: 'It is otherwise already' },
  'not-now': { status: 409, title: 'Not as things stand' },
  'too-large': { status: 413, title: 'The request is too large' },
  'wrong-media-type': { status: 415, title: 'Only JSON is understood' },
  'bad-configuration': { status: 422, title: 'The site’s document has faults' },
  'bad-findings': { status: 422, title: 'The findings have faults' },
  'bad-recording': { status: 422, title: 'The recorder’s file can’t be taken in' },
  'too-many-requests': { status: 429, title: 'Too many requests' },
  'went-wrong': { status: 500, title: 'Something went wrong here' },
  'not-ready': { status: 503, title: 'A part isn’t reachable' },
} as const satisfies Record<string, { status: number; title: string }>;

export type ProblemCode = keyof typeof PROBLEMS;

export const Problem = Type.Object({
  type: Type.String(),
  title: Type.String(),
  status: Type.Integer(),
  code: Type.String(),
  detail: Type.String(),
  instance: Type.Optional(Type.String()),
  /** one entry for each fault of a document or a query */
  faults: Type.Optional(Type.Array(Type.Object({ pointer: Type.String(), message: Type.String() }))),
});
export type Problem = Static<typeof Problem>;
