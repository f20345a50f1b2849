import { PROBLEMS, type Problem, type ProblemCode } from '../../shared/wire/problem.ts';
import type { Fault } from '../../shared/wire/configuration.ts';

/** An expected "no", thrown inside a route and answered as a problem document (RFC 9457). */
export class Refusal extends Error {
  readonly code: ProblemCode;
  readonly faults: readonly Fault[];
  readonly headers: Readonly<Record<string, string>>;

  constructor(
    code: ProblemCode,
    detail: string,
    faults: readonly Fault[] = [],
    headers: Readonly<Record<string, string>> = {},
  ) {
    super(detail);
    this.code = code;
    this.faults = faults;
    this.headers = headers;
  }
}

export function problemOf(code: ProblemCode, detail: string, faults: readonly Fault[] = []): Problem {
  const { status, title } = PROBLEMS[code];
  return {
    type: `/problems/${code}`,
    title,
    status,
    code,
    detail,
    ...(faults.length > 0 ? { faults: [...faults] } : {}),
  };
}
