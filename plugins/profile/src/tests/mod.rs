//! Tests of the decisions, of the numbers against outside judges, and of the picture's promises.

mod decisions;
mod fixture;
mod numbers;
mod outcome;
mod picture;
mod speed;
