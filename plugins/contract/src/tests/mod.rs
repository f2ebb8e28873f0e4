//! Tests of the contract: reading what people write, exact lengths, the two spaces, the pixel grid, outlines,
//! surveys, ink maps, colours, what was worked out lately and what printers stretch.

mod cells;
mod geometry;
mod grid;
mod ink;
mod lab;
mod order;
mod outline;
mod recent;
mod scale;
mod settings;
mod survey;
mod units;
