//! The project's own rules and the program as a maker runs it, in one test binary.
//!
//! Choose by module: `cargo test --test suite architecture::`.

#![expect(clippy::expect_used, reason = "a test whose ground is missing fails, also in its helpers")]

mod architecture;
mod bad_input;
mod calibration;
mod examples;
mod first_hour;
mod lists;
mod main_job;
mod mistakes;
mod morning;
mod programs;
mod schemas;
mod shared;
mod shrinking;
mod studio;
mod test_print;
