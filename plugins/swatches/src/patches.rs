//! Flat patches: colours of this artwork as the sheets hold them, and steps of the sheets' own channels.

use std::collections::BTreeMap;

use seamwright_contract::layout::{Design, Layout};
use seamwright_contract::picture::{Band, Channels, Samples};
use seamwright_contract::{Face, Fault, Lab, Length, Point, Rect, num};

use crate::regions::Afar;
use crate::words;

/// The samples of one pixel as the sheets hold them, 8 bits each; as many as the picture has channels count.
pub(crate) type Ink = [u8; 4];

/// Patches of one kind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Group {
    /// What they are.
    pub(crate) title: String,
    /// In the order of their numbers.
    pub(crate) patches: Vec<Ink>,
}

/// The most patches of colours of the artwork, of each kind.
const MOST: usize = 8;

/// Half the side of the spot whose mean stands for a place.
const HALF_SPOT: Length = Length::from_um(500);

/// Colours nearer than this (CIEDE2000) are one.
const ALIKE: f64 = 12.0;

/// All groups, the most telling first.
pub(crate) fn of(layout: &Layout, afar: &Afar) -> Result<Vec<Group>, Fault> {
    let mut groups = Vec::new();
    groups.extend(out_of_reach(layout)?);
    groups.extend(commonest(layout, afar)?);
    groups.extend(steps(layout.picture.format().channels));
    Ok(groups)
}

/// The colours the printer is farthest from, picked where they are.
fn out_of_reach(layout: &Layout) -> Result<Option<Group>, Fault> {
    let Some(range) = layout.colour.as_ref().and_then(|colour| colour.range.as_ref()) else {
        return Ok(None);
    };
    let worst = range.worst.iter().take(MOST);
    let patches =
        worst.map(|swatch| spot(layout, layout.design()?, swatch.at)).collect::<Result<Vec<_>, _>>()?;
    let title = words::WORST.to_owned();
    Ok((!patches.is_empty()).then_some(Group { title, patches }))
}

/// The mean of the pixels about a place.
fn spot(layout: &Layout, design: &Design, at: Point<Face>) -> Result<Ink, Fault> {
    let whole = Rect::of_size(design.size);
    let about = Rect::from_edges(at.x - HALF_SPOT, at.y - HALF_SPOT, at.x + HALF_SPOT, at.y + HALF_SPOT);
    let window = design.window(&about.intersection(&whole).unwrap_or(whole));
    let mut band = Band::empty();
    layout.picture.fill(window, &mut band)?;
    let mut mean = Mean::default();
    inks(&band).for_each(|ink| mean.add(ink));
    Ok(mean.ink())
}

/// The colours that cover most of the design, told apart by how they look.
fn commonest(layout: &Layout, afar: &Afar) -> Result<Option<Group>, Fault> {
    let printed = layout.picture.reduced(afar.size)?;
    let channels = printed.format().channels;
    let mut bins: BTreeMap<[u8; 3], [Mean; 2]> = BTreeMap::new();
    for (ink, look) in inks(&printed).zip(&afar.pixels) {
        let [mean, seen] = bins.entry(look.map(|sample| sample >> 5)).or_default();
        mean.add(ink);
        seen.add([look[0], look[1], look[2], 0]);
    }
    let mut bins: Vec<_> = bins.into_values().collect();
    // A stable order: equal counts stay in the order of their colours.
    bins.sort_by_key(|[mean, _]| std::cmp::Reverse(mean.count));
    let mut chosen: Vec<(Ink, Lab)> = Vec::new();
    for [mean, seen] in bins {
        let [red, green, blue, _] = seen.ink();
        let (ink, lab) = (mean.ink(), Lab::of_srgb([red, green, blue]));
        let new = chosen.iter().all(|(_, other)| lab.difference(*other) > ALIKE);
        if new && !is_bare(ink, channels) && chosen.len() < MOST {
            chosen.push((ink, lab));
        }
    }
    let patches: Vec<_> = chosen.into_iter().map(|(ink, _)| ink).collect();
    let title = words::COMMONEST.to_owned();
    Ok((!patches.is_empty()).then_some(Group { title, patches }))
}

/// Whether it prints next to nothing.
fn is_bare(ink: Ink, channels: Channels) -> bool {
    ink.iter().take(channels.count()).all(|sample| sample.abs_diff(channels.bare()) <= 3)
}

/// Steps of the sheets' own channels, from little ink to all of it.
fn steps(channels: Channels) -> Vec<Group> {
    let gray = |tenths: u32| [byte(10 - tenths, 10); 4];
    let group = |title: &str, patches: Vec<Ink>| Group { title: title.to_owned(), patches };
    match channels {
        Channels::Gray => vec![group(words::GRAYS, (1..=10).map(gray).collect())],
        Channels::Rgb => {
            let full = [
                [255, 0, 0, 0],
                [0, 255, 0, 0],
                [0, 0, 255, 0],
                [0, 255, 255, 0],
                [255, 0, 255, 0],
                [255, 255, 0, 0],
            ];
            vec![group(words::GRAYS_AND_FULL, (1..=10).map(gray).chain(full).collect())]
        }
        Channels::Cmyk => {
            let quarters = |inks: [bool; 4]| {
                (1..=4).map(move |quarter| inks.map(|inked| if inked { byte(quarter, 4) } else { 0 }))
            };
            let single = (0..4).flat_map(|ink| quarters([0, 1, 2, 3].map(|other| other == ink)));
            vec![
                group(words::INKS, single.collect()),
                group(words::MIXED_GRAY, quarters([true, true, true, false]).collect()),
            ]
        }
    }
}

/// So many parts of a full sample.
fn byte(parts: u32, of: u32) -> u8 {
    u8::try_from((parts * 510 + of) / (2 * of)).unwrap_or(u8::MAX)
}

/// The pixels of a band.
fn inks(band: &Band) -> impl Iterator<Item = Ink> {
    let count = band.format().channels.count();
    let pixels = band.samples.len() / count;
    (0..pixels).map(move |pixel| {
        std::array::from_fn(|i| {
            let at = pixel * count + i;
            let sample = match &band.samples {
                Samples::Eight(samples) => samples.get(at).copied(),
                Samples::Sixteen(samples) => samples.get(at).copied().map(num::narrow),
            };
            sample.filter(|_| i < count).unwrap_or(0)
        })
    })
}

/// A mean of pixels, each sample by itself.
#[derive(Debug, Clone, Copy, Default)]
struct Mean {
    count: u32,
    sums: [u32; 4],
}

impl Mean {
    fn add(&mut self, ink: Ink) {
        self.count += 1;
        self.sums.iter_mut().zip(ink).for_each(|(sum, sample)| *sum += u32::from(sample));
    }

    fn ink(self) -> Ink {
        let count = self.count.max(1);
        self.sums.map(|sum| u8::try_from((sum + count / 2) / count).unwrap_or(u8::MAX))
    }
}
