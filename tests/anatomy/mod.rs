//! Geometry, sizing and the shelf against closed forms and published tables.

mod adult;
mod dissection;
mod import;
mod kit;
mod measure;
mod phantom;
mod sheet;
mod sizing;
