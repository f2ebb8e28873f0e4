//! The daemon: artwork and orders in, finished folders out.
//!
//! It reads as the way of one artwork: `watch` sees that it is complete, `journal` claims it, `run` works it in a
//! process of its own (`intake` reads the order, the plugins of `registry` do the rest), and `journal` delivers what
//! came of it; `queue` is the maker's hand on what waits, `history` what was made and how it turned out, `report` the
//! morning after. No pixel, page or colour is known here.

mod calibrate;
mod cli;
pub mod config;
mod content;
mod deliver;
mod explain;
mod history;
mod init;
pub mod intake;
pub mod journal;
mod listing;
mod manual;
mod progress;
pub mod queue;
pub mod registry;
mod report;
mod run;
mod schemas;
mod shrink;
mod terminal;
mod watch;

pub use cli::main;
pub use run::ask_health;
