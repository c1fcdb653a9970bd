//! Geometry, sizing and the shelf against closed forms and published tables.

mod kit;
