"""A cast on one clock: events, every metre of the strand, the pieces it is cut into, how long it may stand."""
