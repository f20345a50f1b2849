import { describe, expect, it } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import { groupFacts } from '../../shared/review/group.ts';
import type { SupplyFact } from '../../shared/review/supply-fact.ts';

/** `site panel kind at lasts` in seconds; a loss is the supply's. */
function fact(line: string, more: Partial<SupplyFact> = {}): SupplyFact {
  const [site, panel, kind, at, lasts] = line.split(' ') as [
    string,
    string,
    SupplyFact['kind'],
    string,
    string,
  ];
  return {
    id: line,
    site,
    panel,
    unit: null,
    kind,
    cause: kind === 'power-loss' ? 'supply' : null,
    certainty: 'certain',
    start: { earliest: seconds(Number(at) - 0.1), latest: seconds(Number(at) + 0.1) },
    end: lasts === '…' ? null : seconds(Number(at) + Number(lasts)),
    residual: null,
    atOwnStart: false,
    ...more,
  };
}

const groups = (facts: readonly SupplyFact[], doubts: Record<string, number> = {}) =>
  groupFacts(facts, (site) => doubts[site] ?? 0.05).map(({ kind, sites }) => [
    kind,
    ...sites.map(({ site, panels, facts: own }) => `${site} ${panels.join('+')}: ${own.length}`),
  ]);

describe('which events are one power event', () => {
  it('two reclosings and the outage after them are one, with the restart', () => {
    const three = ['0 0.4', '15 0.5', '47 660'].map((at) => fact(`elm panel-a power-loss ${at}`));
    const restart = fact('elm panel-a restart-sequence 707 150');
    expect(groups([...three, restart])).toEqual([['outage', 'elm panel-a: 4']]);
  });

  it('outages more than three minutes apart are two', () => {
    expect(groups([fact('elm panel-a power-loss 0 1'), fact('elm panel-a power-loss 182 1')])).toHaveLength(
      2,
    );
    expect(groups([fact('elm panel-a power-loss 0 1'), fact('elm panel-a power-loss 180 1')])).toHaveLength(
      1,
    );
  });

  it('the same dip on two panels of one site and on another site is one utility event', () => {
    const seen = ['elm panel-a', 'elm panel-b', 'oak panel-p'].map((where) =>
      fact(`${where} voltage-sag 10 0.2`),
    );
    expect(groups(seen)).toEqual([['sag', 'elm panel-a+panel-b: 2', 'oak panel-p: 1']]);
  });

  it('a site that saw the last reclosing alone is joined by it', () => {
    const elm = ['0 0.4', '15 60'].map((at) => fact(`elm panel-a power-loss ${at}`));
    expect(groups([...elm, fact('oak panel-p power-loss 15.3 60')])).toEqual([
      ['outage', 'elm panel-a: 2', 'oak panel-p: 1'],
    ]);
  });

  it('clocks that may be off join what they may have seen together, and good clocks keep it apart', () => {
    const two = [fact('elm panel-a voltage-sag 10 0.2'), fact('oak panel-p voltage-sag 14 0.2')];
    expect(groups(two)).toHaveLength(2);
    expect(groups(two, { oak: 4 })).toEqual([['sag', 'elm panel-a: 1', 'oak panel-p: 1']]);
  });

  it('outages that overlap but began apart are two: sites aren’t known by feeder', () => {
    expect(
      groups([fact('elm panel-a power-loss 0 900'), fact('oak panel-p power-loss 300 900')]),
    ).toHaveLength(2);
  });

  it('an hour on the generator keeps both transfers in one event', () => {
    const facts = [
      fact('oak panel-p power-loss 0 15'),
      fact('oak panel-p generator-supply 15 3600'),
      fact('oak panel-p power-loss 3615 1'),
    ];
    expect(groups(facts)).toEqual([['outage', 'oak panel-p: 3']]);
  });

  it('one unit’s own loss makes none; neither do starts by themselves', () => {
    expect(groups([fact('elm panel-a power-loss 0 60', { cause: 'unknown' })])).toEqual([]);
    expect(groups([fact('elm panel-a simultaneous-start 0 1')])).toEqual([]);
  });

  it('a dip at the start of a unit of the same panel is its own load’s; within an outage it is no matter', () => {
    const dip = fact('elm panel-a voltage-sag 140 0.3', { atOwnStart: true });
    expect(groups([dip])).toEqual([['starting-dip', 'elm panel-a: 1']]);
    expect(groups([fact('elm panel-a power-loss 0 5'), dip])).toEqual([['outage', 'elm panel-a: 2']]);
  });

  it('a loss whose end nobody told takes in a day and no more', () => {
    const open = fact('elm panel-a power-loss 0 …');
    expect(groups([open, fact('elm panel-a power-loss 3600 1')])).toHaveLength(1);
    expect(groups([open, fact('elm panel-a power-loss 90000 1')])).toHaveLength(2);
  });
});
