/**
 * How fast this server folds what is inferred again: rows of the record a second, measured on its own larger steps, reading
 * included. Small steps say nothing of it: their time is that of asking.
 */
export interface FoldRate {
  note(rows: number, milliseconds: number): void;
  /** null: nothing large was folded since the start */
  rowsPerSecond(): number | null;
}

const LARGE_ROWS = 1000;
/** so many newest rows decide, about */
const REMEMBERED_ROWS = 2_000_000;

export function makeFoldRate(): FoldRate {
  let [rows, milliseconds] = [0, 0];
  return {
    note(more, took) {
      if (more < LARGE_ROWS) return;
      [rows, milliseconds] = [rows + more, milliseconds + took];
      if (rows > REMEMBERED_ROWS) [rows, milliseconds] = [rows / 2, milliseconds / 2];
    },
    rowsPerSecond: () => (milliseconds > 0 ? (1000 * rows) / milliseconds : null),
  };
}
