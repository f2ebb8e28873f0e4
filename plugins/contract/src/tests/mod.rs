//! Tests of the contract: reading what people write, exact lengths, the two spaces, the pixel grid, outlines,
//! surveys.

mod geometry;
mod grid;
mod outline;
mod settings;
mod survey;
mod units;
