//! Pictures for the eye, drawn on demand into `assets/gallery`: `cargo test --release --no-default-features --test gallery`.
//! Kept out of the everyday run: a picture cannot fail, and drawing them all takes minutes.

#![allow(clippy::unwrap_used, reason = "a picture that cannot be drawn fails, and an unwrap says where")]
#![allow(clippy::disallowed_methods, clippy::disallowed_types, reason = "files are written here")]
#![allow(dead_code, reason = "the phantoms are shared with the tests, which use more of them")]

mod imaging {
    mod gallery;
    mod leaks;
    mod patient;
}

mod mechanics {
    mod gallery;
    mod phantom;
    mod plot;
    mod rods;
}
