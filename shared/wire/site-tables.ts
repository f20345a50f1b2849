import Type, { type Static } from 'typebox';
import { choice, Count, nullable } from './schema.ts';

/** Sites as CSV tables, in and out: what is asked and answered. */
export const TABLE_NAMES = ['sites', 'gateways', 'spaces', 'panels', 'units', 'points'] as const;

export const SiteTablesAsk = Type.Object({
  dryRun: Type.Boolean({ description: 'true: everything is checked and nothing is taken in' }),
  files: Type.Array(
    Type.Object({ name: Type.String({ maxLength: 200 }), text: Type.String({ maxLength: 4_000_000 }) }),
    { minItems: 1, maxItems: 20 },
  ),
});
export type SiteTablesAsk = Static<typeof SiteTablesAsk>;

const TableFault = Type.Object({
  file: Type.String(),
  row: Type.Integer({ description: 'as a spreadsheet counts: the head is 1' }),
  column: Type.String({ description: 'empty: the row as a whole' }),
  message: Type.String(),
});

export const SiteTablesAnswer = Type.Object({
  id: Type.String(),
  dryRun: Type.Boolean(),
  state: choice('checking', 'saving', 'done', 'refused', 'failed'),
  /** sites checked or written, of how many */
  done: Count,
  of: Count,
  rows: Count,
  sites: Type.Array(
    Type.Object({ site: Type.String(), isNew: Type.Boolean(), units: Count, changes: Count }),
    { maxItems: 5000 },
  ),
  faults: Type.Array(TableFault, { maxItems: 5000 }),
  faultCount: Count,
  says: nullable(Type.String({ description: 'why it failed' })),
});
export type SiteTablesAnswer = Static<typeof SiteTablesAnswer>;
