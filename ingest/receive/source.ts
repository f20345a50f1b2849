/** Where messages come from: an external broker, or the embedded one. */
export interface Source {
  /** the embedded broker's; null: the broker isn't ours */
  readonly port: number | null;
  /** Stops receiving; what was received is committed and acknowledged before this comes back. */
  stop(): Promise<void>;
  /** The same for good: what a session at the broker still holds is received first, and the session ended. */
  leave(): Promise<void>;
}
