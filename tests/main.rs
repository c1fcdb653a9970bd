//! The one integration-test binary: each file here is a room's checks against something outside the project.

mod anatomy;
mod assess;
mod circulation;
mod debrief;
mod desk;
mod golden;
mod imaging;
mod mechanics;
mod scenario;
mod session;
