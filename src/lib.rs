//! The daemon: artwork and orders in, finished folders out.

pub mod config;
pub mod intake;
pub mod registry;
