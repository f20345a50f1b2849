/** Before anything is wired or moved (handbook 4, “Sensing must be safe”): the first thing that the page shows. */
export const SAFE_SENSING: readonly string[] = [
  'Sensing inputs are isolated and of high impedance: none of them can energise or hold any terminal. A leaky input can hold a call.',
  'Never put 24 V AC into a dry-contact input: an isolating relay for each contact.',
  'Never join the control commons of two units through one input bank: one unit’s transformer can feed back through the other’s and put line voltage inside a unit that is switched off.',
  'No input is wired across a pressure switch.',
  'Nothing here asks you to jumper, bypass or hold in anything. What can’t be provoked safely is ticked off when it happens by itself.',
];
