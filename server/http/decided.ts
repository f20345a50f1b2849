import type { AskedCommand } from '../../db/alarm-commands.ts';
import { refusalText } from '../../shared/wire/alarm-sentences.ts';
import { askSite } from '../alarms/ask.ts';
import type { Service } from '../service.ts';
import { Refusal } from './refusal.ts';

/** Comes back when what was asked is done; says why not where it can't be. */
export async function decided(service: Service, site: string, asked: AskedCommand): Promise<void> {
  const outcome = await askSite(service, site, asked);
  if (outcome === null || outcome.outcome === null)
    throw new Refusal('not-ready', 'This site’s alarms are busy just now. Try again in a moment.');
  service.alarmsChanged();
  if (outcome.outcome !== 'done') throw new Refusal('not-now', refusalText(outcome.outcome));
}
