//! Laws of laying pieces on sheets, against rules anyone can check, plain rows, and all layouts there are for few pieces.

use proptest::prelude::*;

use crate::pack::{Cut, Packing, Piece, Um, pack};

const SHEET: (Um, Um) = (203_200, 266_700);
const HALF: Um = 3_175;

fn piece(width: Um, height: Um) -> Piece {
    Piece { width, height, free: [HALF; 4] }
}

/// What a piece takes of its sheet, as left, top, right, bottom.
fn takes(piece: &Piece, spot: (Um, Um)) -> [Um; 4] {
    let [left, top, right, bottom] = piece.free;
    [spot.0 - left, spot.1 - top, spot.0 + piece.width + right, spot.1 + piece.height + bottom]
}

fn all_taken(pieces: &[Piece], packing: &Packing, sheet: usize) -> Vec<[Um; 4]> {
    let spots = pieces.iter().zip(&packing.spots);
    spots
        .filter(|(_, spot)| spot.sheet == sheet)
        .map(|(piece, spot)| takes(piece, (spot.left, spot.top)))
        .collect()
}

fn overlap(one: &[Um; 4], other: &[Um; 4]) -> bool {
    one[0] < other[2] && other[0] < one[2] && one[1] < other[3] && other[1] < one[3]
}

/// Whether a cut runs through something.
fn runs_through(cut: &Cut, taken: &[Um; 4]) -> bool {
    let [from, to] = cut;
    if from.1 == to.1 {
        taken[1] < from.1 && from.1 < taken[3] && from.0 < taken[2] && taken[0] < to.0
    } else {
        taken[0] < from.0 && from.0 < taken[2] && from.1 < taken[3] && taken[1] < to.1
    }
}

/// Whether the cuts, each through all that still hangs together where it runs, leave every piece by itself.
fn parts(taken: &[[Um; 4]], cuts: &[Cut]) -> bool {
    let mut groups = vec![taken.to_vec()];
    for [from, to] in cuts {
        let level = from.1 == to.1;
        let holds = |group: &Vec<[Um; 4]>| {
            let least = |side: usize| group.iter().map(|part| part[side]).min().unwrap();
            let most = |side: usize| group.iter().map(|part| part[side]).max().unwrap();
            if level {
                from.0 <= least(0) && most(2) <= to.0 && least(1) < from.1 && from.1 < most(3)
            } else {
                from.1 <= least(1) && most(3) <= to.1 && least(0) < from.0 && from.0 < most(2)
            }
        };
        let Some(at) = groups.iter().position(holds) else { return false };
        let group = groups.swap_remove(at);
        let near = |part: &[Um; 4]| if level { part[3] <= from.1 } else { part[2] <= from.0 };
        let far = |part: &[Um; 4]| if level { part[1] >= from.1 } else { part[0] >= from.0 };
        let (one, other): (Vec<_>, Vec<_>) = group.iter().copied().partition(near);
        if one.is_empty() || other.is_empty() || !other.iter().all(far) {
            return false;
        }
        groups.extend([one, other]);
    }
    groups.iter().all(|group| group.len() == 1)
}

/// Rows from the top, the highest pieces first, each where it first fits: how many sheets that takes.
fn plain_rows(pieces: &[Piece], (width, height): (Um, Um)) -> usize {
    let mut sizes: Vec<(Um, Um)> =
        pieces.iter().map(|piece| (piece.height + 2 * HALF, piece.width + 2 * HALF)).collect();
    sizes.sort_unstable_by(|one, other| other.cmp(one));
    // Of each sheet the height used, and of each row what is left of its width and how high it is.
    let mut sheets: Vec<(Um, Vec<(Um, Um)>)> = Vec::new();
    for (high, wide) in sizes {
        let fits = sheets.iter_mut().any(|(used, rows)| {
            if let Some(row) = rows.iter_mut().find(|row| row.0 >= wide && row.1 >= high) {
                row.0 -= wide;
                return true;
            }
            let room = *used + high <= height + 2 * HALF;
            if room {
                *used += high;
                rows.push((width + 2 * HALF - wide, high));
            }
            room
        });
        if !fits {
            sheets.push((high, vec![(width + 2 * HALF - wide, high)]));
        }
    }
    sheets.len()
}

/// Whether these pieces can lie on one sheet in any way that straight cuts part: all are tried.
fn one_sheet_holds(sizes: &[(Um, Um)], width: Um, height: Um) -> bool {
    match sizes {
        [] => return true,
        [one] => return one.0 <= width && one.1 <= height,
        _ => {}
    }
    // Every way to part them in two, and every place of the cut that some pieces side by side reach.
    (1..(1_u32 << sizes.len()) - 1).any(|mask| {
        let side = |wanted: bool| -> Vec<(Um, Um)> {
            let chosen = sizes.iter().enumerate().filter(|(at, _)| (mask >> at & 1 == 1) == wanted);
            chosen.map(|(_, size)| *size).collect()
        };
        let (one, other) = (side(true), side(false));
        let sums = |of: fn(&(Um, Um)) -> Um| -> Vec<Um> {
            (1..1_u32 << one.len())
                .map(|mask| {
                    one.iter().enumerate().filter(|(at, _)| mask >> at & 1 == 1).map(|(_, s)| of(s)).sum()
                })
                .collect()
        };
        sums(|size| size.0).into_iter().any(|at| {
            at < width && one_sheet_holds(&one, at, height) && one_sheet_holds(&other, width - at, height)
        }) || sums(|size| size.1).into_iter().any(|at| {
            at < height && one_sheet_holds(&one, width, at) && one_sheet_holds(&other, width, height - at)
        })
    })
}

/// Whether pieces of these sizes fit on one sheet.
type Fits<'f> = &'f dyn Fn(&[(Um, Um)]) -> bool;

/// The fewest sheets over all ways to divide the pieces among them.
fn fewest(sizes: &[(Um, Um)], width: Um, height: Um) -> usize {
    fn deal(
        at: usize,
        sizes: &[(Um, Um)],
        sheets: &mut Vec<Vec<(Um, Um)>>,
        best: &mut usize,
        fits: Fits<'_>,
    ) {
        if sheets.len() >= *best {
            return;
        }
        let Some(size) = sizes.get(at) else {
            *best = sheets.len();
            return;
        };
        for number in 0..=sheets.len() {
            if number == sheets.len() {
                sheets.push(Vec::new());
            }
            sheets[number].push(*size);
            if fits(&sheets[number]) {
                deal(at + 1, sizes, sheets, best, fits);
            }
            sheets[number].pop();
            if sheets[number].is_empty() {
                sheets.pop();
                break;
            }
        }
    }
    let mut best = sizes.len() + 1;
    deal(0, sizes, &mut Vec::new(), &mut best, &|some| one_sheet_holds(some, width, height));
    best
}

fn some_pieces(most: usize) -> impl Strategy<Value = Vec<Piece>> {
    let side = |most: Um| prop_oneof![4 => 10_000..most / 2, 1 => 10_000..=most];
    let free = prop_oneof![2 => Just([HALF; 4]), 1 => prop::array::uniform4(0..=HALF)];
    let one = (side(SHEET.0), side(SHEET.1), free);
    prop::collection::vec(one.prop_map(|(width, height, free)| Piece { width, height, free }), 1..most)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn pieces_lie_on_the_sheet_and_never_too_near_each_other(pieces in some_pieces(40)) {
        let packing = pack(&pieces, SHEET).expect("each fits alone");
        prop_assert!(packing.sheets() <= pieces.len());
        for (piece, spot) in pieces.iter().zip(&packing.spots) {
            prop_assert!(spot.sheet < packing.sheets());
            prop_assert!(spot.left >= 0 && spot.left + piece.width <= SHEET.0, "{:?}", spot);
            prop_assert!(spot.top >= 0 && spot.top + piece.height <= SHEET.1, "{:?}", spot);
        }
        for sheet in 0..packing.sheets() {
            let taken = all_taken(&pieces, &packing, sheet);
            prop_assert!(!taken.is_empty());
            for (at, one) in taken.iter().enumerate() {
                prop_assert!(taken[at + 1..].iter().all(|other| !overlap(one, other)));
            }
        }
    }

    #[test]
    fn straight_cuts_in_their_order_part_all_of_them_and_cross_none(pieces in some_pieces(30)) {
        let packing = pack(&pieces, SHEET).expect("each fits alone");
        for (sheet, cuts) in packing.cuts.iter().enumerate() {
            let taken = all_taken(&pieces, &packing, sheet);
            prop_assert!(cuts.iter().all(|cut| taken.iter().all(|one| !runs_through(cut, one))));
            prop_assert_eq!(cuts.len() + 1, taken.len());
            prop_assert!(parts(&taken, cuts), "{:?} of {:?}", cuts, taken);
        }
    }

    #[test]
    fn there_are_never_more_sheets_than_in_plain_rows(
        sizes in prop::collection::vec((10_000..SHEET.0, 10_000..SHEET.1), 1..60)
    ) {
        let pieces: Vec<Piece> = sizes.into_iter().map(|(width, height)| piece(width, height)).collect();
        let packing = pack(&pieces, SHEET).expect("each fits alone");
        prop_assert!(packing.sheets() <= plain_rows(&pieces, SHEET));
    }
}

/// Chances from a seed, the same every time.
fn dice(seed: u64) -> impl FnMut(Um) -> Um {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    move |below| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        Um::try_from(state >> 33).unwrap() % below
    }
}

#[test]
fn few_pieces_take_as_few_sheets_as_all_layouts_there_are() {
    let (mut same, mut more) = (0, 0);
    for seed in 1..=300 {
        let mut roll = dice(seed);
        let count = 3 + roll(3);
        let sizes: Vec<(Um, Um)> = (0..count).map(|_| (20 + 10 * roll(9), 20 + 10 * roll(9))).collect();
        let pieces: Vec<Piece> = sizes
            .iter()
            .map(|(width, height)| Piece { width: *width, height: *height, free: [0; 4] })
            .collect();
        let found = pack(&pieces, (120, 150)).expect("each fits alone").sheets();
        let least = fewest(&sizes, 120, 150);
        assert!(found >= least, "{sizes:?}: {found} sheets where {least} is the least there can be");
        if found == least { same += 1 } else { more += 1 }
    }
    assert!(more * 50 <= same, "{more} of {} take more than the fewest", same + more);
}

#[test]
fn coasters_lie_two_by_two_to_the_micrometre() {
    // 3 3/4 in twice, 1/8 in free on each side, on 8 in: 2 x 3.75 + 2 x 1/8 between them, and the outer 1/8 in hang over.
    let coaster = piece(95_250, 95_250);
    let packing = pack(&[coaster; 4], SHEET).unwrap();
    assert_eq!(packing.sheets(), 1);
    let tight = (2 * 95_250 + 2 * HALF, 2 * 95_250 + 2 * HALF);
    assert_eq!(pack(&[coaster; 4], tight).unwrap().sheets(), 1);
    assert_eq!(
        pack(&[coaster; 4], (tight.0 - 1, tight.1)).unwrap().sheets(),
        2,
        "a micrometre less holds one across"
    );
}

#[test]
fn thousands_of_pieces_are_laid_and_what_fits_no_sheet_is_said() {
    let tags = vec![piece(76_200, 25_400); 3_000];
    let packing = pack(&tags, SHEET).unwrap();
    // Two across (2 x 76.2 + 6.35 <= 203.2), eight down (8 x 25.4 + 7 x 6.35 <= 266.7).
    assert_eq!(packing.sheets(), 3_000_usize.div_ceil(16));
    assert_eq!(pack(&[piece(SHEET.0 + 1, 10)], SHEET), None);
}
