import type { AnyRow, RowsHead } from '../../shared/wire/import-lines.ts';
import { IMPORT_ROWS, type ImportAnswer } from '../../shared/wire/import-wire.ts';

/** A file's lines sent in batches; memory holds one of them. */
export interface Importing {
  readonly lines: AsyncIterable<string>;
  readonly head: RowsHead;
  readonly dryRun: boolean;
  send(ask: { site: string; rows: AnyRow[]; dryRun?: true }): Promise<ImportAnswer>;
  /** a line that can't be taken: counted from 1, with what to do */
  refused(fault: LineFault): Promise<void>;
  /** so many lines are done with */
  progress(lines: number): void;
}

export interface LineFault {
  readonly number: number;
  readonly line: string;
  readonly says: string;
}

export interface Imported {
  readonly rows: number;
  readonly taken: number;
  readonly changed: number;
  readonly refused: number;
  /** whether the file says that it is whole; null: its form can't say */
  readonly isWhole: boolean | null;
}

interface Waiting {
  readonly number: number;
  readonly line: string;
  readonly row: AnyRow;
}

/** Of the lines of a batch, with one line more: a waveform may have millions. */
const MOST_CHARACTERS = 600_000;

/** `lines` are those after the first. */
export async function importLines(importing: Importing): Promise<Imported> {
  const { lines, head, dryRun } = importing;
  const done = { rows: 0, taken: 0, changed: 0, refused: 0 };
  let [site, number, said] = ['', 1, null as number | null];
  let [batch, characters]: [Waiting[], number] = [[], 0];

  const refuse = async (fault: LineFault): Promise<void> => {
    done.refused++;
    await importing.refused(fault);
  };
  const flush = async (): Promise<void> => {
    if (batch.length === 0) return;
    const sent = batch;
    [batch, characters] = [[], 0];
    const rows = sent.map(({ row }) => row);
    const answer = await importing.send({ site, rows, ...(dryRun ? { dryRun: true } : {}) });
    done.taken += answer.taken;
    done.changed += answer.changed;
    for (const { row, says } of answer.faults) {
      const { number, line } = sent[row]!;
      await refuse({ number, line, says });
    }
    importing.progress(number);
  };

  for await (const line of lines) {
    number++;
    if (line.trim() === '') continue;
    const found = head.read(line);
    if (found.kind === 'end') {
      said = found.rows;
      continue;
    }
    done.rows++;
    if (found.kind === 'fault') {
      await refuse({ number, line, says: found.says });
      continue;
    }
    if (found.site !== site || batch.length >= IMPORT_ROWS || characters > MOST_CHARACTERS) await flush();
    site = found.site;
    batch.push({ number, line, row: found.row });
    characters += line.length;
  }
  await flush();
  return { ...done, isWhole: head.format === 'ndjson' ? said === done.rows : null };
}
