import type { Catalogue } from './catalogue.ts';
import { NOTHING_KNOWN } from './read-catalogue.ts';

/** What is listened to follows the configuration: whoever receives is told of it now and whenever it has been read again. */
export class Listening {
  readonly #told: ((catalogue: Catalogue) => void)[] = [];
  #catalogue: Catalogue = NOTHING_KNOWN;

  /** Comes back when the configuration has been read for the first time. */
  readonly known = new Promise<void>((known) => {
    this.follow(({ revision }) => {
      if (revision !== NOTHING_KNOWN.revision) known();
    });
  });

  get isKnown(): boolean {
    return this.#catalogue !== NOTHING_KNOWN;
  }

  get catalogue(): Catalogue {
    return this.#catalogue;
  }

  set catalogue(catalogue: Catalogue) {
    this.#catalogue = catalogue;
    for (const tell of this.#told) tell(catalogue);
  }

  follow(tell: (catalogue: Catalogue) => void): void {
    this.#told.push(tell);
    tell(this.#catalogue);
  }
}
