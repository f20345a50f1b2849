import { statement, type Queries } from '../pool.ts';

const NEWEST = statement('', 'select coalesce(max(number), 0) as number from migrations');

/** The newest migration that a database has had. */
export const readSchemaNumber = async (queries: Queries): Promise<number> =>
  (await queries.one<{ number: number }>(NEWEST)).number;
