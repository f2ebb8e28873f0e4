//! Tests of the contract: reading what people write, exact lengths, the two spaces, the pixel grid, outlines,
//! surveys, ink maps and colours.

mod cells;
mod geometry;
mod grid;
mod ink;
mod lab;
mod outline;
mod settings;
mod survey;
mod units;
