//! Tests of the contract: reading what people write, exact lengths, the two spaces, the pixel grid, outlines,
//! surveys and ink maps.

mod geometry;
mod grid;
mod ink;
mod outline;
mod settings;
mod survey;
mod units;
