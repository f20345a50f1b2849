/** A length of time in a sentence of the proof: `41 s`, `3:30`; shared/wire/durations.ts stands right of here. */
export function lengthOf(seconds: number): string {
  const whole = Math.round(Math.abs(seconds));
  if (Math.abs(seconds) < 10) return `${Math.round(Math.abs(seconds) * 10) / 10} s`;
  if (whole < 100) return `${whole} s`;
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, '0')}`;
}
