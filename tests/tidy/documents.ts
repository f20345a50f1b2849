import { posix } from 'node:path';
import { isSource, type Fault, type Tree } from './tree.ts';

/**
 * Documents and comments may name only files that exist. In documents: links, and `code` that looks like a path. In
 * comments: paths from the root. The changelog may name what is gone; a folder is named with a slash at its end.
 */
const EXTENSION = /\.(ts|svelte|sql|json|md|js|yml|yaml|conf|css|html|png|toml)$/;
const COMMENT_PATH = /\b(?:shared|db|ingest|server|web|tests)\/[\w./-]*\w\.(?:ts|svelte|sql|json|md|conf)\b/g;

export function documentFaults(tree: Tree, exists: (path: string) => boolean): Fault[] {
  return [...tree].flatMap(([path, text]) => {
    if (path === 'CHANGELOG.md') return [];
    const named = namedIn(path, text);
    return named
      .filter(({ name }) => !candidates(path, name).some(exists) && !isBelow(tree, path, name))
      .map(({ name, line }) => `${path}:${line}: names ${name}, which doesn't exist`);
  });
}

function namedIn(path: string, text: string): Named[] {
  if (path.endsWith('.md')) return inDocument(text);
  return isSource(path) && !path.startsWith('tests/tidy/') ? inComments(text) : [];
}

interface Named {
  readonly name: string;
  readonly line: number;
}

/** as seen from the root, or from beside the document */
const candidates = (path: string, name: string): string[] => [name, posix.join(posix.dirname(path), name)];

/** a bare name may lie anywhere below the document's own folder */
function isBelow(tree: Tree, document: string, name: string): boolean {
  const folder = document.includes('/') ? `${posix.dirname(document)}/` : '';
  return (
    !name.includes('/') &&
    [...tree.keys()].some((path) => path.startsWith(folder) && path.endsWith(`/${name}`))
  );
}

function inDocument(text: string): Named[] {
  return text.split('\n').flatMap((line, i) => {
    const links = [...line.matchAll(/\]\(([^)#\s]+)[^)]*\)/g)].map((m) => m[1]!);
    const code = [...line.matchAll(/`([^`\s]+)`/g)].map((m) => m[1]!).filter(looksLikePath);
    return [...links.filter((link) => !/^[a-z]+:/.test(link)), ...code].map((name) => ({
      name: name.replace(/\/$/, ''),
      line: i + 1,
    }));
  });
}

function looksLikePath(code: string): boolean {
  if (/[*<>{}:$?=,()]/.test(code) || code.startsWith('/') || code.startsWith('../')) return false;
  return EXTENSION.test(code) || /^(shared|db|ingest|server|web|tests)\/([\w-]+\/?)*$/.test(code);
}

function inComments(text: string): Named[] {
  return text.split('\n').flatMap((line, i) => {
    const comment = /(?:^\s*\*|\/\*\*?|\/\/)(.*)$/.exec(line)?.[1] ?? '';
    return [...comment.matchAll(COMMENT_PATH)].map((match) => ({ name: match[0], line: i + 1 }));
  });
}
