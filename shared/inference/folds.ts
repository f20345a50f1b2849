import type { Subject } from './event.ts';
import type { Fold } from './fold.ts';
import { gatewayFold } from './gateway/fold.ts';
import { panelFold } from './panel/fold.ts';
import { siteFold } from './site/fold.ts';
import { spaceFold } from './space/fold.ts';
import { unitFold } from './unit/fold.ts';

/**
 * What is folded, by the kind of its subject. A fold's state is its own affair: whoever looks here passes states on
 * unread.
 */
// eslint-disable-next-line @typescript-eslint/no-explicit-any
export const FOLDS: Readonly<Record<Subject['kind'], Fold<any>>> = {
  unit: unitFold,
  panel: panelFold,
  space: spaceFold,
  gateway: gatewayFold,
  site: siteFold,
};
