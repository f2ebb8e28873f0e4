//! The test print measured: regions against brute force, boxes against each other and the paper, pixels against the
//! artwork.

mod fixture;
mod laws;
mod patches;
mod pixels;
mod regions;
