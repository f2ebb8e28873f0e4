//! A whole job by an order that may be anything: every stage decides, and what they decided is written down.

use std::collections::BTreeMap;
use std::io::{self, Write};
use std::sync::Arc;

use seamwright_contract::colour::Source;
use seamwright_contract::layout::{Artwork, Job, Layout};
use seamwright_contract::order::Order;
use seamwright_contract::picture::{Format, Picture, Pixels, Window};
use seamwright_contract::plugin::{Means, Outbox};
use seamwright_contract::sample::Pixmap;
use seamwright_contract::{Blame, Fault, Length};

use super::texts::{shipped, taken};

/// Larger blanks are only slower.
const LARGEST: Length = Length::from_mm(1_200);

/// What is written in words; pages of pixels are others' tests.
const WRITERS: [&str; 2] = ["notes", "record"];

/// A sidecar, and after a zero byte its folder's defaults.
pub(super) fn job(data: &[u8]) {
    let Some(mut order) = taken(data) else { return };
    let sides = [order.size.width, order.size.height, order.blank.size.width, order.blank.size.height];
    if sides.iter().any(|side| *side > LARGEST) {
        return;
    }
    order.allow_low_ppi = true;
    if let Err(fault) = worked(order) {
        assert!(matches!(fault.blame, Blame::Artwork | Blame::Order | Blame::Setup), "{fault:?}");
        assert!(!fault.what.is_empty() && !fault.cure.is_empty(), "{fault:?}");
    }
}

fn worked(order: Order) -> Result<(), Fault> {
    let picture = picture();
    let artwork = Artwork {
        file: "chart.png".to_owned(),
        sha256: "3f9a21".repeat(8),
        size: picture.size(),
        drawing: None,
        source: Source::Srgb { said: false },
    };
    let mut layout = Layout::new(
        Job {
            name: "chart-3f9a21".to_owned(),
            fonts: std::path::PathBuf::new(),
            scratch: std::env::temp_dir(),
        },
        order,
        artwork,
        picture,
    );
    let pipeline = &shipped().pipeline;
    for (_, stage) in &pipeline.stages {
        layout = stage.apply(layout)?;
    }
    let means = Means { memory: 64 << 20, threads: 1, keep: 0 };
    for (_, writer) in pipeline.writers.iter().filter(|(name, _)| WRITERS.contains(name)) {
        writer.write(&layout, &means, &mut Nowhere::default())?;
    }
    Ok(())
}

/// Ink of several kinds beside bare parts, with few pixels.
fn picture() -> Arc<dyn Picture> {
    let mut drawn = Pixmap::bare(Pixels::new(96, 64), Format::RGB8);
    drawn.paint(Window::new(8, 8, 40, 30), &[40_000, 9_000, 20_000]);
    drawn.paint(Window::new(30, 20, 60, 6), &[0, 0, 0]);
    for x in (0..96).step_by(3) {
        drawn.paint(Window::new(x, 50, 1, 14), &[60_000, 30_000, 0]);
    }
    Arc::new(drawn)
}

/// An outbox that keeps no file.
#[derive(Default)]
struct Nowhere(BTreeMap<u32, String>);

impl Outbox for Nowhere {
    fn create(&mut self, _: &str) -> Result<Box<dyn Write + Send>, Fault> {
        Ok(Box::new(io::sink()))
    }

    fn files(&self) -> Vec<String> {
        Vec::new()
    }

    fn note_panel(&mut self, panel: u32, sha256: String) {
        self.0.insert(panel, sha256);
    }

    fn panels(&self) -> &BTreeMap<u32, String> {
        &self.0
    }
}
