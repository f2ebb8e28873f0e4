//! Letters of many scripts, from fonts that are there or not.

use seamwright_contract::settings::Value;

use super::{asked, box_of, piece, pixels, refusal, set, text};

fn said(words: &str, more: &[(&str, Value)]) -> Value {
    piece(words, ("box", box_of([5.0, 5.0, 90.0, 40.0])), &[&[("size", text("20mm"))], more].concat())
}

/// How much ink each column of pixels has.
fn columns(words: &str) -> Vec<u32> {
    let (size, samples) = pixels(&set(asked([100, 50], said(words, &[]))).unwrap());
    let mut columns = vec![0; size.width as usize];
    for (at, pixel) in samples.chunks_exact(3).enumerate() {
        columns[at % size.width as usize] += u32::from(255 - pixel[0]);
    }
    columns
}

#[test]
fn a_letter_that_no_font_has_is_named() {
    let fault = refusal(asked([100, 50], said("Ada \u{e123}", &[])));
    assert!(fault.what.contains("U+E123"), "{fault:?}");
}

#[test]
fn a_font_that_is_not_there_is_refused_with_the_nearest() {
    let fault = refusal(asked([100, 50], said("Ada", &[("font", text("DejaVu Sanz"))])));
    assert!(fault.what.contains("'DejaVu Sanz' is not on this machine"), "{fault:?}");
    assert!(fault.cure.contains("DejaVu Sans"), "{fault:?}");
}

#[test]
fn a_style_that_the_font_lacks_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let mut layout = asked([100, 50], said("Ada", &[("style", text("italic"))]));
    layout.job.fonts = folder.path().to_owned();
    // The shipped face has no italic; where the machine has one of the family it may be taken.
    match set(layout) {
        Err(fault) => assert!(fault.what.contains("has no italic letters"), "{fault:?}"),
        Ok(layout) => assert_eq!(layout.lettering.len(), 1),
    }
    let bold = set(asked([100, 50], said("Ada", &[("style", text("bold"))]))).unwrap();
    let plain = set(asked([100, 50], said("Ada", &[]))).unwrap();
    let ink = |layout| pixels(layout).1.iter().map(|sample| u64::from(255 - sample)).sum::<u64>();
    assert!(ink(&bold) > ink(&plain) * 11 / 10, "bold letters are darker");
}

#[test]
fn scripts_that_run_from_the_right_do() {
    // Alef is broad, vav narrow: the first letter stands at the right.
    let (alef_first, vav_first) = (columns("\u{5d0}\u{5d5}"), columns("\u{5d5}\u{5d0}"));
    let right_half = |columns: &[u32]| columns[500..].iter().sum::<u32>();
    assert!(
        right_half(&alef_first) > right_half(&vav_first),
        "the broad letter is at the right when it comes first"
    );
    // Punctuation at the end stands at the left.
    let first = |columns: &[u32]| columns.iter().position(|ink| *ink > 0).unwrap();
    let bang = columns("\u{5e9}\u{5dc}\u{5d5}\u{5dd}!");
    let from = first(&bang);
    let gap = bang[from..].iter().position(|ink| *ink == 0).unwrap();
    assert!(gap < 40, "a narrow mark stands first from the left, {gap} pixels wide");
}

#[test]
fn letters_that_join_are_joined() {
    // Beh joined to beh is one shape without a gap; parted by a mark that forbids it, two.
    let gaps = |columns: &[u32]| {
        let (first, last) = (
            columns.iter().position(|ink| *ink > 0).unwrap(),
            columns.iter().rposition(|ink| *ink > 0).unwrap(),
        );
        columns[first..=last].windows(2).filter(|pair| pair[0] > 0 && pair[1] == 0).count()
    };
    let joined = gaps(&columns("\u{628}\u{628}"));
    let parted = gaps(&columns("\u{628}\u{200c}\u{628}"));
    assert!(joined == 0 && parted == 1, "{joined} {parted}");
}

#[test]
fn combining_marks_stand_over_their_letters() {
    let composed = columns("\u{1ec5}");
    let combined = columns("e\u{302}\u{303}");
    let differ = composed.iter().zip(&combined).filter(|(a, b)| a.abs_diff(**b) > 600).count();
    assert!(differ < 6, "{differ} columns differ");
}
