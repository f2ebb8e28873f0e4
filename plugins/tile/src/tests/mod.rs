//! Tests of `tile`: the tables of the check data, the laws of a lay-up, and the seams against brute force.
mod choice;
mod exact;
mod fixture;
mod laws;
mod tables;
