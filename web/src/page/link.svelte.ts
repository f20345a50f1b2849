import { watchLink } from '../net/live.ts';

/** Is this page's own link to the server up. It starts as up: the first seconds of a page aren't a failure. */
class Link {
  up = $state(true);
  watch(): () => void {
    let first = true;
    return watchLink((up) => {
      if (first && !up) {
        first = false;
        return;
      }
      this.up = up;
    });
  }
}
export const link = new Link();
