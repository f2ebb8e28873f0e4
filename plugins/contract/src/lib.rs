//! What every stage and writer agrees on: lengths, the two spaces, the layout, pictures and faults.
//!
//! The daemon knows plugins only through this crate, and plugins know each other not at all. It holds no
//! input or output, no clock and nothing asynchronous, so every rule in it can be tested by arithmetic alone.
//!
//! The way of one artwork through these types: an [`order::Order`] says what the maker wants; a
//! [`layout::Layout`] starts from it and the opened [`picture::Picture`]; each [`plugin::Stage`] takes the
//! layout and gives it back with more decided; each [`plugin::Writer`] reads the finished layout.

pub mod catalogue;
pub mod cells;
pub mod colour;
pub mod fault;
pub mod geometry;
pub mod ink;
pub mod lab;
pub mod layout;
pub mod num;
pub mod order;
pub mod outline;
pub mod picture;
pub mod plugin;
pub mod recent;
#[cfg(any(test, feature = "sample"))]
pub mod sample;
pub mod scale;
pub mod sending;
pub mod settings;
pub mod survey;
pub mod turn;
pub mod units;

pub use fault::{Blame, Fault};
pub use geometry::{Face, OnBlank, Page, Paper, Point, Rect, Sides, Size};
pub use lab::Lab;
pub use outline::Outline;
pub use units::{Length, Ppi};

#[cfg(test)]
mod tests;
