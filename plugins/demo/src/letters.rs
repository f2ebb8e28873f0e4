//! Letters drawn with a pen: each is a few strokes on a grid four wide and six high.

use crate::canvas::{At, Canvas, Ink};

/// Strokes of a letter: points as `xy` digits, y counted up from the foot, strokes parted by a slash.
const fn strokes(letter: char) -> &'static str {
    match letter {
        'A' => "00 04 26 44 40/02 42",
        'B' => "00 06 36 45 44 33 03/33 42 41 30 00",
        'C' => "45 36 16 05 01 10 30 41",
        'D' => "00 06 26 44 42 20 00",
        'E' => "46 06 00 40/03 33",
        'F' => "46 06 00/03 33",
        'G' => "45 36 16 05 01 10 30 41 43 23",
        'H' => "00 06/40 46/03 43",
        'I' => "00 06",
        'J' => "46 41 30 10 01",
        'K' => "00 06/46 03 40",
        'L' => "06 00 40",
        'M' => "00 06 23 46 40",
        'N' => "00 06 40 46",
        'O' | '0' => "10 01 05 16 36 45 41 30 10",
        'P' => "00 06 36 45 44 33 03",
        'Q' => "10 01 05 16 36 45 41 30 10/22 40",
        'R' => "00 06 36 45 44 33 03/23 40",
        'S' => "45 36 16 05 04 13 33 42 41 30 10 01",
        'T' => "20 26/06 46",
        'U' => "06 01 10 30 41 46",
        'V' => "06 20 46",
        'W' => "06 10 23 30 46",
        'X' => "00 46/06 40",
        'Y' => "06 23 46/23 20",
        'Z' => "06 46 00 40",
        '1' => "05 26 20/00 40",
        '2' => "05 16 36 45 44 00 40",
        '3' => "05 16 36 45 44 33 42 41 30 10 01/33 13",
        '4' => "30 36 02 42",
        '5' => "46 06 03 33 42 41 30 10 01",
        '6' => "45 36 16 05 01 10 30 41 42 33 03",
        '7' => "06 46 10",
        '8' => "13 04 05 16 36 45 44 33 13 02 01 10 30 41 42 33",
        '9' => "01 10 30 41 45 36 16 05 04 13 43",
        '-' => "03 23",
        '.' => "00 01",
        _ => "",
    }
}

/// The pen's points of a letter in grid steps, stroke by stroke.
fn points(letter: char) -> impl Iterator<Item = Vec<At>> {
    let digit = |c: Option<char>| c.and_then(|c| c.to_digit(10)).map_or(0.0, f64::from);
    strokes(letter).split('/').filter(|stroke| !stroke.is_empty()).map(move |stroke| {
        stroke
            .split(' ')
            .map(|pair| {
                let mut digits = pair.chars();
                (digit(digits.next()), digit(digits.next()))
            })
            .collect()
    })
}

/// How wide a letter is in grid steps, without the gap after it.
fn width(letter: char) -> f64 {
    points(letter).flatten().map(|(x, _)| x).fold(if letter == ' ' { 1.6 } else { 0.0 }, f64::max)
}

/// How a line of letters looks.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Hand {
    /// Height of the letters.
    pub(crate) height: f64,
    /// Width of the pen.
    pub(crate) pen: f64,
    /// Its colour.
    pub(crate) ink: Ink,
}

impl Hand {
    const GAP: f64 = 1.9;

    /// How wide a line of letters comes out.
    pub(crate) fn width(&self, text: &str) -> f64 {
        let steps: f64 = text.chars().map(|letter| width(letter) + Self::GAP).sum();
        (steps - Self::GAP).max(0.0) * self.height / 6.0
    }

    /// Writes a line, its foot's middle at `at`, turned by `degrees` clockwise about it.
    pub(crate) fn write(&self, canvas: &mut Canvas, text: &str, at: At, degrees: f64) {
        let step = self.height / 6.0;
        let (sin, cos) = degrees.to_radians().sin_cos();
        let mut pen = -self.width(text) / 2.0;
        for letter in text.chars() {
            for stroke in points(letter) {
                let turned: Vec<At> = stroke
                    .iter()
                    .map(|(x, y)| {
                        let (x, y) = (pen + x * step, -y * step);
                        (at.0 + x * cos - y * sin, at.1 + x * sin + y * cos)
                    })
                    .collect();
                canvas.pen(&turned, self.pen, self.ink);
            }
            pen += (width(letter) + Self::GAP) * step;
        }
    }

    /// Writes a line around a circle, upright at its top, its middle at `degrees` clockwise from the top.
    pub(crate) fn write_around(
        &self,
        canvas: &mut Canvas,
        text: &str,
        centre: At,
        radius: f64,
        degrees: f64,
    ) {
        let step = self.height / 6.0;
        let turn = |along: f64| degrees + (along / radius).to_degrees();
        let mut along = -self.width(text) / 2.0;
        for letter in text.chars() {
            let half = width(letter) * step / 2.0;
            let angle = turn(along + half);
            let (sin, cos) = angle.to_radians().sin_cos();
            let foot = (centre.0 + radius * sin, centre.1 - radius * cos);
            self.write(canvas, letter.encode_utf8(&mut [0; 4]), foot, angle);
            along += half * 2.0 + Self::GAP * step;
        }
    }
}
