//! Balance: many players rehearse a case, and an educator sees whether it can be won, can be lost, has a choice that never
//! matters or an ending that nobody reaches.
//!
//! 1. [`Mind`] says how a player decides; a [`hand::Hand`] turns that into orders.
//! 2. [`sweep`] rehearses every player with every seed, on several threads: each rehearsal is one [`Outcome`], the same whatever
//!    the number of threads.
//! 3. [`table`] writes outcomes as CSV and reads them back, so that shards can be merged.
//! 4. [`Summary`] counts; [`page()`] draws.
//!
//! This is the only room below the desks with threads; a session knows nothing of them.

mod company;
mod count;
pub mod hand;
mod mind;
mod outcome;
mod page;
mod plots;
mod sweep;
pub mod table;

pub use count::{AskCount, COSTS, Cost, More, OptionCount, PlayerCount, Spread, Summary, wilson};
pub use mind::{Kind, Mind, slip_rate};
pub use outcome::{Harm, Made, Outcome};
pub use page::{dominated, idle, page};
pub use sweep::{Pace, Plan, rehearse, sweep};
