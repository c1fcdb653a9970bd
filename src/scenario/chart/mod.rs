//! The state chart of a case: what phase it is in, and what an event makes of it.
//!
//! The meaning is that of State Chart XML (W3C Recommendation SCXML 1.0, 2015), Appendix D, without `invoke`:
//! nested and parallel states, transitions in document order with the innermost first, internal and external,
//! without event, done events, shallow and deep history, events sent with a delay and cancelled.
//!
//! 1. The case is written as a tree of [`StateSpec`]; [`Chart::build`] checks it and tells every fault at
//!    once.
//! 2. [`Machine::start`] enters the initial states. What guards and actions mean is the [`Host`]'s business.
//! 3. [`Machine::event`] tells it what happened, [`Machine::advance`] lets time pass, [`Machine::poll`] says
//!    that the world may have changed; each runs to rest before it returns.
//! 4. [`analyse`] finds states that cannot be reached or left; [`export`] draws the chart or writes it as
//!    SCXML.

mod analysis;
mod entry;
pub mod export;
mod host;
mod machine;
mod model;
mod spec;

pub use analysis::{Finding, analyse};
pub use host::{Host, Raise, Situation};
pub use machine::{MOST_MICROSTEPS, Machine, Runaway};
pub use model::{Chart, StateId, StateKind};
pub use spec::{ChartFault, InitialSpec, Place, SpecKind, StateSpec, TransitionSpec};
