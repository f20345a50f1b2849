import { parseInstant, type Instant } from '../../../shared/base/instant.ts';
import type { HeardAnswer } from '../../../shared/wire/wiring.ts';
import type { HeardValue } from '../../../shared/wiring/heard.ts';

/** As shared/wiring has it; when it changed stays at the server. */
export function heardValue(heard: HeardAnswer): HeardValue {
  const { topic, kind, pointer, time, count, last, form, least, most, steps } = heard;
  const at = (text: string): Instant => parseInstant(text)!;
  const numbers =
    least === null || most === null
      ? null
      : { ...{ count, sum: 0, least, most, travel: 0, last: most, steps }, changes: [] };
  return {
    ...{ topic, kind, pointer, time, count, last, form, numbers },
    ...{ firstAt: at(heard.firstAt), lastAt: at(heard.lastAt) },
  };
}
