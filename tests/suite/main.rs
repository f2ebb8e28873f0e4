//! The project's own rules and the program as a maker runs it, in one test binary.
//!
//! Choose by module: `cargo test --test suite architecture::`.

mod architecture;
mod bad_input;
mod main_job;
mod studio;
