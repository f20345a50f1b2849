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
- Outages between which power was back too shortly to be seen are one; a restart sequence is asked for after the last of
  outages that follow one another within 500 s, since how they are grouped is the tool's own affair.
- Of the simulated building, losses of cooling and high temperatures aren't labelled; its alarm wire that is off in one
  scenario isn't held against the alarm circuit.
- Delivered late: stretches of up to some hours come after they are over, one row in a hundred by itself, through a store
  that keeps checkpoints and rewinds.

How the statement is held: a true event *can be known* when its kind and cause have a row that says certain or probable, and
all that it leans on lasts as long as the statement says must be. *Beyond it* is whatever is published more surely than its
row allows, true or not. It speaks of each kind at best: a kind that is certain after a seen power return and probable
otherwise is stated as certain, so the share published as certain is below one where control voltage is polled.

What isn't reached, and why:

- *Intervals that miss.* A run whose off time fits between two polls; a break of the call between two polls in a soft
  lockout; an alarm that is released on a fault and so stays through the outage that ended its lockout.
- *Silent alarm circuits, on change.* Where the written-down delay is far too short and nothing has shown it yet, the
  refused retry is dated by what is written down: told, and too early to count as found (4 of 260).
- *Welded contactors, polled each second.* One of 22, a weld of 1.4 s beside a grace of two seconds.
- *Panels of three, polled.* One loss of cooling of 7 and one start together of 8 at one second, two losses of 37 at five:
  too few to say more than that polls hide what lies between them.

Not scored yet: weak cooling, control voltage out of range, sags and swells, generator supply, high temperature, losses of
cooling that come of a wait in a hot space, and how soon the events of panels and spaces are told.
`;
