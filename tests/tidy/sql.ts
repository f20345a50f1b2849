import ts from 'typescript';
import { eachNode, lineOf, parseSource } from './source.ts';
import { isShipped, type Fault, type Tree } from './tree.ts';

/** All SQL is in `db`: a string elsewhere that begins like a statement is one that strayed. */
const STATEMENT =
  /^\s*(select\s[\s\S]*\sfrom\s|insert\s+into\s|update\s+\w+\s+set\s|delete\s+from\s|(create|drop|alter)\s+(table|index|view|schema)\s|with\s+\w+\s+as\s*\(|truncate\s|(un)?listen\s+\w+\s*$|notify\s+\w+\s*$)/i;

export function sqlFaults(tree: Tree): Fault[] {
  return [...tree].filter(([path]) => isShipped(path) && !path.startsWith('db/')).flatMap(fileFaults);
}

function fileFaults([path, text]: readonly [string, string]): Fault[] {
  const source = parseSource(path, text);
  const faults: Fault[] = [];
  eachNode(source, (node) => {
    const isText = ts.isStringLiteralLike(node) || ts.isTemplateExpression(node);
    if (isText && STATEMENT.test(node.getText().slice(1, -1))) {
      faults.push(`${path}:${lineOf(source, node)}: SQL outside db`);
    }
  });
  return faults;
}
