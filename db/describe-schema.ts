import { statement, type Queries } from './pool.ts';

/**
 * The schema as the database itself has it, in words that can be compared: every table with its columns, constraints and
 * indexes. The embedded PostgreSQL brings no pg_dump, so the catalogue is asked.
 */
const TABLES = statement(
  '',
  `select c.oid, c.relname as name, coalesce(' partition by ' || lower(pg_get_partkeydef(c.oid)), '') as parts from pg_class c join pg_namespace n on n.oid = c.relnamespace
   where n.nspname = 'public' and c.relkind in ('r', 'p') and not c.relispartition order by c.relname`,
);
const COLUMNS = statement(
  '',
  `select format('  %s %s%s%s', a.attname, format_type(a.atttypid, a.atttypmod),
       case when a.attnotnull then ' not null' else '' end,
       case when a.attidentity <> '' then ' generated always as identity'
            when d.adbin is not null then ' default ' || pg_get_expr(d.adbin, d.adrelid) else '' end) as line
   from pg_attribute a left join pg_attrdef d on d.adrelid = a.attrelid and d.adnum = a.attnum
   where a.attrelid = $1 and a.attnum > 0 and not a.attisdropped order by a.attnum`,
);
const CONSTRAINTS = statement(
  '',
  `select format('  constraint %s %s', conname, pg_get_constraintdef(oid)) as line
   from pg_constraint where conrelid = $1 and contype <> 'n' order by contype, conname`,
);
const INDEXES = statement(
  '',
  `select pg_get_indexdef(i.indexrelid) || ';' as line from pg_index i
   join pg_class c on c.oid = i.indexrelid
   where i.indrelid = $1 and not exists (select 1 from pg_constraint where conindid = i.indexrelid and contype in ('p', 'u', 'x'))
   order by c.relname`,
);

export async function describeSchema(queries: Queries): Promise<string> {
  const parts: string[] = [];
  for (const { oid, name, parts: by } of await queries.many<{ oid: number; name: string; parts: string }>(
    TABLES,
  )) {
    const lines = async (what: typeof COLUMNS) =>
      (await queries.many<{ line: string }>(what, [oid])).map(({ line }) => line);
    const inside = [...(await lines(COLUMNS)), ...(await lines(CONSTRAINTS))];
    parts.push(
      [`create table ${name} (`, inside.join(',\n'), `)${by};`, ...(await lines(INDEXES))].join('\n'),
    );
  }
  return `${parts.join('\n\n')}\n`;
}
