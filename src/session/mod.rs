//! One rehearsal as a fold of orders over time: the step, the log, replay and fork.
