import { seconds, type Instant } from '../../shared/base/instant.ts';
import { control, type Control } from '../../shared/control/control.ts';
import { withTimerError, type ControlSettings } from '../../shared/control/settings.ts';
import { alarmOn, outputOn, type ControlChange, type ControlState } from '../../shared/control/state.ts';
import { NO_CHANGES, record, type Trace, type TraceSignal } from './trace.ts';

/**
 * A unit as it stands on the wall, for labelled histories: the reference control around which faults are composed that
 * a healthy building wouldn't have. Driven by hand, forward in time; everything that happens is kept exactly.
 */
export interface PlantFaults {
  /** the contactor's contacts are welded: it conducts whatever its coil does */
  welded: boolean;
  /** the compressor draws nothing: overload open, a pole, a wire */
  dead: boolean;
  /** the alarm relay or its wire never moves its contact */
  alarmSilent: boolean;
  alarmInverted: boolean;
  /** closes by itself */
  alarmStray: boolean;
  /** the wire that senses the call at the control's terminal is off: the gateway sees no call */
  callWireLost: boolean;
}

interface PlantInputs {
  volts: number;
  /** what the thermostat wants, upstream of everything */
  want: boolean;
  /** an interlock between the thermostat and the control's own terminal */
  interlock: boolean;
  high: boolean;
  low: boolean;
}

/** what a running compressor draws, A; V of a healthy control circuit */
export const RUNNING_AMPS = 15;
export const HEALTHY_VOLTS = 26;
const NO_FAULTS: PlantFaults = {
  welded: false,
  dead: false,
  alarmSilent: false,
  alarmInverted: false,
  alarmStray: false,
  callWireLost: false,
};

export class UnitPlant {
  readonly trace: Trace = NO_CHANGES();
  readonly changes: ControlChange[] = [];
  readonly faults: PlantFaults = { ...NO_FAULTS };
  t: Instant;
  #settings: ControlSettings;
  #model: Control;
  #state: ControlState;
  #inputs: PlantInputs = { volts: HEALTHY_VOLTS, want: false, interlock: false, high: false, low: false };
  #pulledIn = false;
  readonly #alarmOn: 'energised' | 'released';

  constructor(settings: ControlSettings, from: Instant, alarm: 'energised' | 'released') {
    this.#settings = settings;
    this.#model = control(settings);
    this.#state = this.#model.settled(from - seconds(20_000));
    this.#alarmOn = alarm;
    this.t = from;
    this.#step(from);
  }

  /** What the control really is set to from now on: a dial is turned, a timer drifts or fails. */
  setTo(settings: Partial<ControlSettings>, timerError = 0): void {
    this.#settings = { ...this.#settings, ...settings };
    this.#model = control(withTimerError(this.#settings, timerError));
  }

  get settings(): ControlSettings {
    return this.#model.settings;
  }
  get phase(): ControlState['phase'] {
    return this.#state.phase;
  }

  set(inputs: Partial<PlantInputs>): void {
    this.#inputs = { ...this.#inputs, ...inputs };
    this.#step(this.t);
  }

  /** Faults of contactor, compressor and wires show at once. */
  fault(faults: Partial<PlantFaults>): void {
    Object.assign(this.faults, faults);
    this.#show();
  }

  wait(duration: number): void {
    const until = this.t + seconds(duration);
    for (let due = this.#due(); due !== null && due <= until; due = this.#due()) this.#step(due);
    this.t = until;
  }

  /** Waits for the phase, for so long at most, then for a moment more; answers whether it came. */
  waitFor(phase: ControlState['phase'], most: number): boolean {
    const until = this.t + seconds(most);
    while (this.phase !== phase) {
      const due = this.#due();
      if (due === null || due > until) {
        this.t = until;
        return false;
      }
      this.#step(due);
    }
    return true;
  }

  #due(): Instant | null {
    return this.#model.deadline(this.#state);
  }

  #step(at: Instant): void {
    this.t = at;
    const { volts, high, low } = this.#inputs;
    const inputs = {
      controlVoltage: volts,
      call: this.#called(),
      highPressureOpen: high,
      lowPressureOpen: low,
    };
    const { state, changes } = this.#model.step(this.#state, inputs, at);
    this.#state = state;
    this.changes.push(...changes);
    this.#show();
  }

  #called(): boolean {
    const { want, interlock, volts } = this.#inputs;
    return want && !interlock && volts >= 5;
  }

  #show(): void {
    const { volts, want, high, low } = this.#inputs;
    const output = outputOn(this.#state);
    const coil = output ? volts : 0;
    if (coil > 20.4) this.#pulledIn = true;
    if (coil < 12) this.#pulledIn = false;
    const conducts = (this.#pulledIn || this.faults.welded) && volts >= 5 && !this.faults.dead;
    const note = (signal: TraceSignal, value: number): void => record(this.trace, signal, this.t, value);
    note('volts', volts);
    note('want', +(want && volts >= 5));
    note('call', +this.#called());
    note('high', +high);
    note('low', +low);
    note('output', +output);
    note('alarm', +this.#alarmContact());
    note('seen-call', +(this.#called() && !this.faults.callWireLost));
    note('current', conducts ? RUNNING_AMPS : 0);
  }

  /** asserted, as the point's record says: with its faults */
  #alarmContact(): boolean {
    const { alarmSilent, alarmStray, alarmInverted } = this.faults;
    if (alarmSilent) return false;
    const released = this.#alarmOn === 'released' && this.#inputs.volts < 5;
    const on = alarmOn(this.#state) || alarmStray || released;
    return on !== alarmInverted;
  }
}
