import { Refused, sendJson } from '../net/http.ts';

/** A form on its way to the server: once at a time, with what was refused beside the field that it is about. */
export class SentForm {
  busy = $state(false);
  refused = $state.raw<Refused | null>(null);

  /** What was wrong with a field; empty: nothing. */
  fault(field: string): string {
    return this.refused?.faults.find(({ pointer }) => pointer === `/${field}`)?.message ?? '';
  }

  /** What belongs to none of these fields. */
  saying(...fields: string[]): string {
    const { refused } = this;
    if (refused === null || fields.some((field) => this.fault(field) !== '')) return '';
    return [refused.detail, ...refused.faults.map(({ message }) => message)].join(' ');
  }

  /** null: refused, and said so. */
  async send<A>(
    method: 'POST' | 'PUT' | 'DELETE',
    path: string,
    body?: unknown,
    headers: Readonly<Record<string, string>> = {},
  ): Promise<{ readonly answer: A } | null> {
    if (this.busy) return null;
    this.busy = true;
    this.refused = null;
    try {
      return { answer: await sendJson<A>(method, path, body, { headers }) };
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
      return null;
    } finally {
      this.busy = false;
    }
  }
}
