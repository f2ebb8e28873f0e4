//! Tests of the contract: reading what people write, exact lengths, the two spaces, the pixel grid.

mod geometry;
mod grid;
mod settings;
mod units;
