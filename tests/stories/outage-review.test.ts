import { describe, expect, it } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import { siteHeadline } from '../../shared/wire/review-sentences.ts';
import { namesOf } from '../../shared/wire/review-words.ts';
import { reviewScenario, type ReviewedSite } from '../fixtures/reviewed.ts';

/**
 * What the engineer reads after an outage of a simulated building: the summary in plain words, each sentence with the
 * events behind it. The school's panel A is set 30 s apart (3 s at the restart, handbook 2.1), on panel B two alike.
 */
const said = ({ sentences }: ReviewedSite) => sentences.map(({ text }) => text);
const headline = ({ review, told }: ReviewedSite) => siteHeadline(review, told.site.name, namesOf(told.site));

describe('the utility recloses twice, then stays away for four minutes', () => {
  const reviewed = reviewScenario('utility-outage');

  it('is one power event, told in the order in which it happened', () => {
    expect(reviewed.powerEvents.map(({ kind }) => kind)).toEqual(['outage']);
    expect(headline(reviewed)).toBe(
      'Harrow Lane School (simulated) was without power for 4:00–4:02 min; Room 6 and Room 7 restarted together on Panel B.',
    );
    expect(said(reviewed)).toEqual([
      'Power went from Panel A and Panel B at 07:10:00 on Wed 26 Aug 2026, three times in all. It came back for good at 07:14:45, after 4:00–4:02 min without power in all.',
      'Six compressors were running; all of them dropped (power lost).',
      'On Panel B four units restarted 138 to 144 s after power’s return at 07:14:45. Started together: Room 6 and Room 7 (0–0.44 s); the panel’s minimum is 2 s.',
      'On Panel A four units restarted 138 to 147 s after power’s return at 07:14:45. Kept apart by 2.6 s or more; the panel’s minimum is 2 s.',
      'Nothing latched out.',
      'Every unit that was called came back.',
      'Room 4 was longest without cooling: 7:12 min. It reached 25.6 °C at 07:17, 4.4 K below its limit of 30 °C.',
    ]);
  });

  it('each sentence leans on events of the site, but for those that say what wasn’t there', () => {
    const ids = new Set(reviewed.events.map(({ id }) => id));
    for (const { text, evidence } of reviewed.sentences) {
      for (const id of evidence) expect(ids).toContain(id);
      if (text !== 'Nothing latched out.') expect(evidence.length).toBeGreaterThan(0);
    }
  });

  it('a unit that was off held its delay; how long it was wanted is an interval', () => {
    const off = reviewed.review.units.find(({ unit }) => unit === 'unit-2')!;
    expect(off.outcome).toBe('held');
    expect(off.withoutCooling[0]).toBe(0);
    expect(off.withoutCooling[1]).toBeCloseTo(426.3, 0);
  });

  it('asks for other delays on panel B alone', () => {
    expect(reviewed.review.todo).toEqual([{ kind: 'stagger', panel: 'panel-b' }]);
  });
});

describe('a minute after the power’s return', () => {
  const { start } = reviewScenario('utility-outage').review.share;
  const reviewed = reviewScenario('utility-outage', { end: start.latest + seconds(345) });

  it('units wait for their delays: none is said to stay off, and nothing is to be done', () => {
    expect(headline(reviewed)).toBe(
      'Harrow Lane School (simulated) was without power for 4:00–4:02 min; eight units wait for their delays.',
    );
    expect(reviewed.review.units.map(({ stillOff }) => stillOff)).not.toContain(true);
    expect(reviewed.review.todo).toEqual([]);
  });
});

describe('two gateways haven’t delivered', () => {
  const reviewed = reviewScenario('utility-outage', { without: ['module-1', 'module-7'] });

  it('what their units did isn’t known, and nothing is said to have been kept apart', () => {
    expect(headline(reviewed)).toMatch(/; whether its starts were kept apart can’t be told\.$/);
    expect(said(reviewed)).toContain(
      'What Room 1 and Room 7 did isn’t known: their runs weren’t heard then.',
    );
    expect(said(reviewed)).toContain('Every unit that was called, and is heard of, came back.');
    expect(said(reviewed).at(-1)).toBe(
      'Two gateways of this site haven’t delivered (module-1 and module-7): what they hold back may change this.',
    );
    expect(reviewed.review.rooms.find(({ space }) => space === 'room-1')!.withoutCooling).toBeNull();
  });
});

describe('a night on the generator', () => {
  const reviewed = reviewScenario('generator-night');

  it('is one power event with both transfers; the return is a second break and a second restart', () => {
    expect(reviewed.powerEvents).toHaveLength(1);
    expect(said(reviewed)).toContain(
      'The generator fed Panel P from 06:30:11 to 07:35:00 (1 h 04 min). The return to the utility was a second short break: Unit 1, left dropped and restarted a second time.',
    );
    const restarts = said(reviewed).filter((text) => text.startsWith('On Panel P'));
    expect(restarts).toEqual([
      'On Panel P Unit 1, left restarted 138 to 139 s after power’s return at 06:30:11, fed by the generator.',
      'On Panel P Unit 1, left restarted 138 to 139 s after power’s return at 07:35:00, fed by the utility.',
    ]);
  });
});
