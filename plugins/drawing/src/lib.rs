//! Pages as PDF: words, lines and areas at exact places, measured before they are drawn, and pictures at true size.
//!
//! A library shared by the plugins that draw (`marks` measures its labels, `proof` takes its letters' outlines, `notes`
//! writes pages, `sheets` and `swatches` pages with a picture to be printed, by [`sheet`]), not a plugin itself: it has no
//! registry entry and knows no job. Everything is in page space ([`Page`]): whole micrometres from the page's top left, y
//! down; the turn to PDF points from the bottom left happens once, in [`pdf`] and [`sheet`]. Text is set in the fonts
//! shipped with the program, so what is measured is what is printed.

pub mod font;
pub mod page;
pub mod pdf;
pub mod sheet;

pub use font::Style;
pub use page::{Align, Canvas, Item, Path, Pen, Segment};
pub use seamwright_contract::Page;

#[cfg(test)]
mod tests;
