/** How an edit stands, in the words after the site’s name. */
export function stateWords(changes: number, faults: number, revision: number): string {
  const wrong =
    faults === 0 ? '' : `${faults === 1 ? 'one thing is' : `${faults} things are`} to be set right`;
  if (revision === 0) return wrong === '' ? 'not saved yet.' : `not saved yet; ${wrong}.`;
  if (changes === 0) return wrong === '' ? 'nothing is changed.' : `${wrong}.`;
  const changed = changes === 1 ? 'one change isn’t saved' : `${changes} changes aren’t saved`;
  return wrong === '' ? `${changed}.` : `${changed}; ${wrong}.`;
}

const LONG_S = 90;

/** A length of time, roughly. */
export function roughly(seconds: number): string {
  if (seconds < 1.5) return 'a second or so';
  if (seconds < LONG_S) return `about ${Math.ceil(seconds)} s`;
  if (seconds < 5400) return `about ${Math.ceil(seconds / 60)} min`;
  return `about ${Math.ceil(seconds / 360) / 10} h`;
}

export const countWords = (count: number): string =>
  count.toLocaleString('en-GB', { maximumSignificantDigits: 2 });
