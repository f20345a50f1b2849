/** What stands at the foot of the page: what isn't reached and why, and how the labels were drawn. Kept by hand. */
export const NOTE = `## Notes

What is labelled how:

- A start that an open high-pressure switch refuses counts as a first stop (handbook 2.2 rule 3, from memory). Whether it
  opens a soft lockout isn't said: such lockouts count neither way.
- A sense wire that is off (3 % of the histories) makes nothing count as missed; what is told falsely counts all the same.
- With an alarm that doesn't tell, a hard lockout that ends before its retry is overdue can't be known and isn't asked for.
- An off time as long as a power-up delay is no short cycle and no mismatch for sure where control power isn't seen
  without a break (handbook 4 rule 7): there it is published as possible, and isn't asked for.
- A verdict within half a second of its limit counts neither way.

What isn't reached, and why:

- *Wide intervals that miss.* Where the alarm circuit is silent and the recorded delay is too short, the end of a soft lockout
  is taken from the recorded delay. Where call or power is polled, a break between two polls ends a lockout unseen, and
  its end is told at the restart.
- *Falsely certain at slow polls.* An alarm contact wired the wrong way round, with an outage or a call break between two
  polls, looks like an alarm that comes and goes.
- *Falsely certain with a dead gateway, or with two clocks.* What happened while a gateway was dead isn't always held
  against what is told across the gap; and the unit's rules don't yet widen the edges of different gateways by what their
  clocks may differ.
- *Causes falsely certain without a high-pressure contact.* A trip within a tenth of a second of the end of the call is told as the
  end of the call.
- *Recall of setting mismatches and silent alarm circuits when polled.* A gap that an unseen outage would explain is passed
  over whole, a wider margin than the labels allow; a silent circuit that is already standing isn't told again.

Not scored yet: panels and spaces, weak cooling, the shared alarm contact, control voltage out of range.
`;
