import type { FastifyRequest } from 'fastify';

/** Who asks, as it stands in a journal: by name, with the role in which it was asked. */
export interface Asker {
  readonly name: string;
  readonly role: string;
}

/** Until somebody has signed in it is the token, or whoever sits on this machine: both have full rights. */
export function whoAsks(request: FastifyRequest): Asker {
  const { actor } = request as FastifyRequest & { readonly actor?: Asker };
  if (actor) return { name: actor.name, role: actor.role };
  const name = request.headers.authorization === undefined ? 'this machine' : 'token';
  return { name, role: 'administrator' };
}
