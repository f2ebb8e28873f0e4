//! The tables of check values, brute force on small designs, and the laws that every plan keeps.

mod exact;
mod fixture;
mod plans;
mod tables;
