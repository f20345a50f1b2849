import type { Field } from './field.ts';

/** A part of the document as the editor lays it out: its inputs under headings, and the lists inside it. */
export interface Part {
  readonly title: string;
  readonly sections: readonly Section[];
  readonly lists: readonly EntryList[];
}

export interface Section {
  /** empty: it needs none */
  readonly title: string;
  readonly help?: string;
  readonly fields: readonly Field[];
}

export interface EntryList {
  /** the property that holds it */
  readonly name: string;
  readonly of: PartName;
  readonly title: string;
  /** what one is called: `point` */
  readonly one: string;
  readonly help?: string;
}

export type PartName =
  'site' | 'contact' | 'gateway' | 'clock-offset' | 'space' | 'use' | 'panel' | 'unit' | 'photo' | 'point';
