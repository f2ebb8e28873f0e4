//! The finished file read back: numbers by lopdf's parser, pixels by a PNG decoder (a PDF image with predictor 15
//! is the inside of a PNG), pages by the usual tools where they are installed.

mod fixture;
mod geometry;
mod kept;
mod pixels;
mod tools;
mod trouble;
