//! How much of a page marks may take: all of it, or a band beside the printed face where panels of other jobs lie on the
//! same sheet, so that many find room there.

use seamwright_contract::layout::{MarkRole, Panel, TRIM_GAP};
use seamwright_contract::{Length, Page, Rect, Sides};

use crate::draft::box_of;

/// Below a panel alone: a line of text, so that each says whose it is.
const NAME: Length = Length::from_um(4_763);

/// Beside a panel that is joined with others: guide lines and alignment want more than a tick.
const JOINED: Length = Length::from_mm(16);

/// Where marks may lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Room {
    /// Wherever the printer prints.
    All,
    /// In a band of these widths.
    Band(Sides<Length>),
}

impl Room {
    /// Beside each of so many panels that share their sheets.
    pub(crate) fn beside(panels: usize) -> Self {
        let tick = TRIM_GAP.half();
        Self::Band(if panels > 1 {
            Sides::all(JOINED)
        } else {
            Sides { left: tick, top: tick, right: tick, bottom: NAME }
        })
    }

    /// That of a panel's page.
    pub(crate) fn of(self, panel: &Panel, live: &Rect<Page>) -> Rect<Page> {
        let Self::Band(band) = self else { return *live };
        let face = panel.printed();
        let band = Rect::from_edges(
            face.x - band.left,
            face.y - band.top,
            face.right() + band.right,
            face.bottom() + band.bottom,
        );
        band.intersection(live).unwrap_or(face)
    }

    /// Whether it is told of that such marks found no room. In a band there is none for all: a shared sheet has its own.
    pub(crate) fn wants(self, role: MarkRole) -> bool {
        self == Self::All || matches!(role, MarkRole::CutTick | MarkRole::Alignment | MarkRole::Label)
    }

    /// A panel with its marks, where it may share its sheet.
    pub(crate) fn piece(self, panel: &Panel) -> Option<Rect<Page>> {
        let marks = panel.marks.iter().map(|mark| box_of(&mark.ink));
        (self != Self::All).then(|| marks.fold(panel.printed(), |piece, mark| piece.around(&mark)))
    }
}
