import { keep, kept } from './device-store.ts';

/**
 * Light or dark: as the device says, or as the reader chose on this device. And in whose time zone times are written.
 */
export type Ground = 'device' | 'light' | 'dark';
export type TimesOf = 'site' | 'mine';

class Choices {
  ground = $state<Ground>((kept('ground') as Ground | null) ?? 'device');
  times = $state<TimesOf>(kept('times') === 'mine' ? 'mine' : 'site');
}
export const choices = new Choices();

export function chooseGround(ground: Ground): void {
  choices.ground = ground;
  keep('ground', ground);
  applyGround();
}

export function chooseTimes(times: TimesOf): void {
  choices.times = times;
  keep('times', times);
}

export function applyGround(): void {
  if (choices.ground === 'device') delete document.documentElement.dataset['ground'];
  else document.documentElement.dataset['ground'] = choices.ground;
}
