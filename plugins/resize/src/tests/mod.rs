//! Placement by the table, decisions and what is said of them, scaling against the textbook's formula, windows
//! against the whole.

mod decisions;
mod fixture;
mod scaling;
mod windows;
