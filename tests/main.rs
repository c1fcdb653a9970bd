//! The one integration-test binary: each file here is a room's checks against something outside the project.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails, and an unwrap says where")]
#![allow(
    clippy::disallowed_methods,
    clippy::disallowed_types,
    reason = "tests read clocks and compare with std"
)]

mod anatomy;
mod assess;
mod balance;
mod circulation;
mod debrief;
mod desk;
mod golden;
mod imaging;
mod mechanics;
mod scenario;
mod session;
mod text;
