/** Where messages come from: an external broker, or the embedded one. */
export interface Source {
  /** the embedded broker's; null: the broker isn't ours */
  readonly port: number | null;
  /** of the embedded broker's door with TLS; null: it has none */
  readonly tlsPort?: number | null;
  /** what parts of this process show themselves by at the embedded broker */
  readonly own?: { readonly username: string; readonly password: string };
  /** Stops receiving; what was received is committed and acknowledged before this comes back. */
  stop(): Promise<void>;
  /** The same for good: what a session at the broker still holds is received first, and the session ended. */
  leave(): Promise<void>;
}
