/**
 * Asks at once and again so long after each answer, until whoever asked leaves; answers how to leave. For what no frame of
 * the live socket tells.
 */
export function askAgain(ask: (signal: AbortSignal) => Promise<void>, everyMs: number): () => void {
  const stop = new AbortController();
  let timer: ReturnType<typeof setTimeout>;
  const again = async (): Promise<void> => {
    await ask(stop.signal);
    if (!stop.signal.aborted) timer = setTimeout(() => void again(), everyMs);
  };
  void again();
  return () => {
    stop.abort();
    clearTimeout(timer);
  };
}
