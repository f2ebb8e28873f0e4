//! Placement by the table, decisions and what is said of them, scaling against the textbook's formula, windows
//! against the whole, ink against brute force.

mod decisions;
mod fixture;
mod masked;
mod scaling;
mod survey;
mod windows;
