import { choices } from './ground.svelte.ts';

/** The ground as it is drawn just now: what a canvas must be drawn again for. */
class GroundNow {
  #dark = $state(matchMedia('(prefers-color-scheme: dark)').matches);
  #print = $state(matchMedia('print').matches);
  readonly now: string = $derived(
    `${choices.ground}${this.#dark ? ' dark' : ''}${this.#print ? ' print' : ''}`,
  );

  constructor() {
    matchMedia('(prefers-color-scheme: dark)').addEventListener(
      'change',
      ({ matches }) => (this.#dark = matches),
    );
    matchMedia('print').addEventListener('change', ({ matches }) => (this.#print = matches));
  }
}
export const ground = new GroundNow();
