//! Geometry, sizing and the shelf against closed forms and published tables.

mod adult;
mod kit;
mod sheet;
