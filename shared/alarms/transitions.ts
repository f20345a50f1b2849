import type { StateLetter } from './life.ts';
import type { Happening } from './machine.ts';

/**
 * The alarm's life as a table: from which state, by what, into which. Letters as in life.ts. Source of each row: the alarm
 * state transition diagram of ANSI/ISA-18.2-2016 (IEC 62682:2014), read in secondary texts; `ours` where the standard leaves
 * it open or handbook 7 says more. tests/property/alarm-machine.test.ts reaches every row and nothing else.
 */
export type Trigger =
  | 'condition'
  | 'return'
  | 'worse'
  | 'withdrawn'
  | 'acknowledge'
  | 'close'
  | 'shelve'
  | 'unshelve'
  | 'suppress'
  | 'unsuppress'
  | 'out-of-service'
  | 'return-to-service';

export interface Transition {
  readonly from: StateLetter;
  readonly by: Trigger;
  readonly to: readonly StateLetter[];
  readonly happens: Happening;
  readonly source: 'ISA-18.2' | 'ours';
}

const row = (
  from: StateLetter,
  by: Trigger,
  to: readonly StateLetter[],
  happens: Happening,
  source: Transition['source'] = 'ISA-18.2',
): Transition => ({ from, by, to, happens, source });

export const TRANSITIONS: readonly Transition[] = [
  row('A', 'condition', ['B'], 'raised'),
  row('A', 'condition', ['H'], 'raised'),
  row('G', 'condition', ['H'], 'raised', 'ours'),
  row('B', 'acknowledge', ['C'], 'acknowledged'),
  row('B', 'return', ['D', 'E'], 'returned'),
  row('C', 'return', ['A', 'F'], 'returned'),
  row('C', 'worse', ['B'], 'made-worse', 'ours'),
  row('D', 'acknowledge', ['A'], 'acknowledged'),
  row('D', 'condition', ['B'], 'raised-again'),
  row('E', 'acknowledge', ['F'], 'acknowledged'),
  row('E', 'condition', ['B'], 'raised-again'),
  row('E', 'close', ['A'], 'closed'),
  row('F', 'close', ['A'], 'closed'),
  row('F', 'condition', ['B'], 'raised-again'),
  // better data say that the condition never was: nothing stays latched for it
  row('B', 'withdrawn', ['D'], 'withdrawn', 'ours'),
  row('C', 'withdrawn', ['A'], 'withdrawn', 'ours'),
  row('E', 'withdrawn', ['D'], 'withdrawn', 'ours'),
  row('F', 'withdrawn', ['A'], 'withdrawn', 'ours'),
  ...(['B', 'C', 'D', 'E', 'F'] as const).map((from) => row(from, 'shelve', ['G'], 'shelved')),
  row('G', 'unshelve', ['A', 'B', 'E', 'F'], 'unshelved'),
  ...(['B', 'C', 'E', 'F'] as const).map((from) => row(from, 'suppress', ['H'], 'suppressed')),
  row('G', 'suppress', ['H'], 'suppressed', 'ours'),
  // over before anybody saw it: its root tells all
  row('D', 'suppress', ['A'], 'suppressed', 'ours'),
  row('H', 'withdrawn', ['A', 'G'], 'withdrawn', 'ours'),
  row('H', 'close', ['A', 'G'], 'closed', 'ours'),
  row('H', 'unsuppress', ['B', 'E', 'F', 'G'], 'unsuppressed'),
  row('H', 'return', ['A', 'G'], 'returned'),
  ...(['B', 'C', 'D', 'E', 'F', 'G', 'H'] as const).map((from) =>
    row(from, 'out-of-service', ['I'], 'taken-out-of-service'),
  ),
  row('I', 'return-to-service', ['A', 'B', 'E', 'F', 'G', 'H'], 'returned-to-service'),
];
