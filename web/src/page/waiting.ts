/** What was pressed and is on its way to the server: what every kind of it has. */
export interface Waiting {
  readonly command: string;
  /** who pressed it: nobody else's session sends it */
  readonly person: string;
  /** ISO 8601, by the server's clock as far as this page knew it */
  readonly saidAt: string;
  /** the server said no, and why; null: it waits */
  readonly refused: string | null;
}

/** Does it make sense to send it again: the server wasn't reached, or wasn't ready. */
export const isWorthAgain = (status: number): boolean =>
  status === 0 || status === 401 || status === 429 || status >= 500;
