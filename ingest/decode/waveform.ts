import type { KnownPoint } from '../catalogue.ts';
import type { Intake } from './intake.ts';

/** `{"t0": …, "dt": …, "w": […], "scale": 1}`: instantaneous values of a voltage or a current. Not taken yet. */
export function takeWaveform(intake: Intake, point: KnownPoint): void {
  intake.refuse('waveform-not-taken', `${point.device}/${point.signal}`, undefined);
}
