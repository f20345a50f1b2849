/** A JSON Pointer (RFC 6901) as its reference tokens, unescaped; null: it is none. `''` points to the whole document. */
export function parsePointer(pointer: string): readonly string[] | null {
  if (pointer === '') return [];
  if (!pointer.startsWith('/') || /~(?![01])/.test(pointer)) return null;
  return pointer
    .slice(1)
    .split('/')
    .map((token) => token.replaceAll('~1', '/').replaceAll('~0', '~'));
}

/** An element's place in an array, without leading zeros (RFC 6901 section 4); `-`, the one after the last, has no value. */
const INDEX = /^(0|[1-9][0-9]*)$/;

/** What a pointer's tokens lead to in a parsed document; undefined: nothing is there. */
export function valueAt(document: unknown, tokens: readonly string[]): unknown {
  let value = document;
  for (const token of tokens) {
    if (typeof value !== 'object' || value === null) return undefined;
    if (Array.isArray(value) ? !INDEX.test(token) : !Object.hasOwn(value, token)) return undefined;
    value = (value as Readonly<Record<string, unknown>>)[token];
  }
  return value;
}
