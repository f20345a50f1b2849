import { fork } from 'node:child_process';
import { mergeInto } from './merge.ts';
import { runSetup, type Asked } from './run-bench.ts';
import { SETUPS } from './setups.ts';
import { newTally, type SetupTally } from './tally.ts';

/** A piece of the bench: some histories of one row. */
export interface Piece {
  readonly row: string;
  readonly asked: Pick<Asked, 'seeds' | 'faults'>;
}

/** so many histories at a time, so that no process is left with a whole row at the end */
const PIECE = 25;

export const piecesOf = ({ row, asked }: Piece): Piece[] =>
  Array.from({ length: Math.ceil(asked.seeds.length / PIECE) }, (_, i) => ({
    row,
    asked: { ...asked, seeds: asked.seeds.slice(i * PIECE, (i + 1) * PIECE) },
  }));

const ofRow = ({ row, asked }: Piece, isShown?: (line: string) => boolean): SetupTally =>
  runSetup(
    SETUPS.find(({ name }) => name === row)!,
    { ...asked, ...(isShown ? { isShown } : {}) },
  );

/** Runs the pieces in so many processes (1: in this one) and answers each row's tally, in the order asked for. */
export async function runPieces(
  pieces: readonly Piece[],
  jobs: number,
  isShown: (line: string) => boolean,
): Promise<Map<string, SetupTally>> {
  const scores = new Map<string, SetupTally>();
  for (const { row } of pieces) scores.set(row, newTally(isShown));
  if (jobs === 1) for (const piece of pieces) mergeInto(scores.get(piece.row)!, ofRow(piece, isShown));
  else {
    const waiting = [...pieces];
    await Promise.all(Array.from({ length: jobs }, () => work(waiting, scores)));
  }
  return scores;
}

/** One child, given piece after piece until none is left. */
function work(waiting: Piece[], scores: Map<string, SetupTally>): Promise<void> {
  const child = fork(import.meta.filename, ['piece'], { serialization: 'advanced' });
  return new Promise((resolve, reject) => {
    let piece: Piece | undefined;
    const next = (): void => {
      piece = waiting.shift();
      if (piece) child.send(piece);
      else child.disconnect();
    };
    child.on('message', (tally: Omit<SetupTally, 'isShown'>) => {
      mergeInto(scores.get(piece!.row)!, tally);
      next();
    });
    child.on('exit', (code) => (code === 0 ? resolve() : reject(new Error(`a job ended with ${code}`))));
    next();
  });
}

if (process.argv[2] === 'piece' && process.send)
  process.on('message', (piece: Piece) => {
    const { isShown: _, ...tally } = ofRow(piece);
    process.send!(tally);
  });
