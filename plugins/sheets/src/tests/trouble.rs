//! What goes wrong is said, and nothing hangs.

use std::sync::Arc;

use seamwright_contract::Blame;
use seamwright_contract::colour::IccProfile;
use seamwright_contract::picture::{Band, Channels, Depth, Format, Picture, Pixels, Window};
use seamwright_contract::plugin::Means;

use super::fixture::{Formula, MEANS, Plan, format, write};

#[test]
fn a_full_disk_is_the_machines_fault() {
    let layout = Plan::default().layout();
    let all = write(&layout, &MEANS, usize::MAX).unwrap().len();
    for room in [0, 10, 1_000, all / 2, all - 100, all - 1] {
        for threads in [1, 2, 5] {
            let fault = write(&layout, &Means { threads, ..MEANS }, room).unwrap_err();
            assert_eq!(fault.blame, Blame::Machine, "room for {room} of {all}");
            assert!(!fault.cure.is_empty(), "{fault}");
        }
    }
    assert!(write(&layout, &MEANS, all).is_ok(), "just enough room");
}

#[test]
fn an_unreadable_picture_is_passed_on() {
    for (columns, rows) in [(1, 1), (5, 6)] {
        let layout = Plan { columns, rows, broken_from: 200, ..Plan::default() }.layout();
        for threads in [1, 2, 5] {
            let fault = write(&layout, &Means { threads, ..MEANS }, usize::MAX).unwrap_err();
            assert_eq!(fault.blame, Blame::Artwork, "{fault}");
        }
    }
}

/// Panics, or gives less than it was asked for.
#[derive(Debug)]
struct Bad {
    like: Formula,
    panics: bool,
}

fn burst(now: bool) {
    assert!(!now, "on purpose");
}

impl Picture for Bad {
    fn size(&self) -> Pixels {
        self.like.size()
    }
    fn format(&self) -> Format {
        self.like.format()
    }
    fn fill(&self, want: Window, out: &mut Band) -> Result<(), seamwright_contract::Fault> {
        burst(self.panics);
        self.like.fill(Window { height: want.height - 1, ..want }, out)
    }
    fn reduced(&self, size: Pixels) -> Result<Band, seamwright_contract::Fault> {
        self.like.reduced(size)
    }
}

#[test]
fn a_mistake_in_a_picture_ends_the_job_and_not_the_daemon() {
    for panics in [true, false] {
        for (columns, rows) in [(1, 1), (3, 2)] {
            for threads in [1, 2, 5] {
                let mut layout = Plan { columns, rows, ..Plan::default() }.layout();
                let like =
                    Formula { size: layout.picture.size(), format: Format::RGB8, broken_from: u32::MAX };
                layout.picture = Arc::new(Bad { like, panics });
                let fault = write(&layout, &Means { threads, ..MEANS }, usize::MAX).unwrap_err();
                assert_eq!(fault.blame, Blame::Defect, "{fault}");
            }
        }
    }
}

#[test]
fn a_profile_of_other_channels_is_a_defect() {
    let mut bytes = vec![0; 128];
    bytes.splice(16..20, *b"CMYK");
    for bytes in [bytes, Vec::new()] {
        let attached = Some(IccProfile { name: "cmyk".to_owned(), bytes: bytes.into() });
        let fault = write(&Plan { attached, ..Plan::default() }.layout(), &MEANS, usize::MAX).unwrap_err();
        assert_eq!(fault.blame, Blame::Defect);
    }
}

#[test]
fn a_picture_smaller_than_the_design_is_a_defect() {
    let mut layout = Plan::default().layout();
    let size = Pixels::new(layout.picture.size().width - 1, layout.picture.size().height);
    layout.picture =
        Arc::new(Formula { size, format: format(Channels::Gray, Depth::Eight), broken_from: u32::MAX });
    assert_eq!(write(&layout, &MEANS, usize::MAX).unwrap_err().blame, Blame::Defect);
    layout.lay_up.as_mut().unwrap().panels.clear();
    assert_eq!(write(&layout, &MEANS, usize::MAX).unwrap_err().blame, Blame::Defect);
}
