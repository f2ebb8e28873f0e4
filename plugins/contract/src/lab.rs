//! Colours as they are seen, bound to no device, and how dye looks on a coloured ground.
//!
//! CIE 1976 L*a*b* under D50, the profile connection space of ICC.1 (white 0.9642, 1, 0.8249); differences by
//! CIEDE2000 (Sharma, Wu, Dalal 2005). Dye is transparent: at each wavelength the light that comes back is that of the
//! ground times what the dye lets through. Three channels stand for the wavelengths here, the linear ones of
//! ITU-R BT.2020, whose wide primaries keep the products nearest to a dye model of 31 bands (mean CIEDE2000 0.4 on tints,
//! 1.5 on strong colours). It is an estimate: glow, pile, weave and uneven pressing are left out.

use crate::num;

/// The white of the profile connection space (ICC.1, D50), as X, Y, Z.
const WHITE: [f64; 3] = [0.9642, 1.0, 0.8249];

/// Where the cube root of CIE 15 gives way to a straight line, and that line's slope: the exact ratios.
const EPSILON: f64 = 216.0 / 24389.0;
const KAPPA: f64 = 24389.0 / 27.0;

/// Linear RGB to XYZ under D50 (Bradford), derived from the published primaries; each with its inverse.
pub(crate) const FROM_SRGB: Matrix = [
    [0.436_041_25, 0.385_112_91, 0.143_045_84],
    [0.222_484_54, 0.716_905_08, 0.060_610_38],
    [0.013_920_19, 0.097_067_24, 0.713_912_57],
];
pub(crate) const TO_SRGB: Matrix = [
    [3.134_186_36, -1.617_208_96, -0.490_694_06],
    [-0.978_748_50, 1.916_130_10, 0.033_433_40],
    [0.071_963_93, -0.228_993_87, 1.405_753_73],
];
pub(crate) const FROM_BT2020: Matrix = [
    [0.673_480_19, 0.165_671_21, 0.125_048_61],
    [0.279_042_58, 0.675_344_50, 0.045_612_92],
    [-0.001_933_48, 0.029_982_85, 0.796_850_63],
];
pub(crate) const TO_BT2020: Matrix = [
    [1.647_232_43, -0.393_612_49, -0.235_966_81],
    [-0.682_617_33, 1.647_612_37, 0.012_810_35],
    [0.029_681_48, -0.062_949_26, 1.253_885_77],
];

pub(crate) type Matrix = [[f64; 3]; 3];

fn times(matrix: &Matrix, vector: [f64; 3]) -> [f64; 3] {
    matrix.map(|row| row[0] * vector[0] + row[1] * vector[1] + row[2] * vector[2])
}

/// A colour: lightness from 0 to 100, and how red or green, yellow or blue it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lab {
    /// L*.
    pub l: f64,
    /// a*: red above zero, green below.
    pub a: f64,
    /// b*: yellow above zero, blue below.
    pub b: f64,
}

impl Lab {
    /// A perfect white.
    pub const WHITE: Self = Self::new(100.0, 0.0, 0.0);

    /// From its three values.
    #[must_use]
    pub const fn new(l: f64, a: f64, b: f64) -> Self {
        Self { l, a, b }
    }

    /// From sRGB (IEC 61966-2-1), 8 bits a channel.
    #[must_use]
    pub fn of_srgb(rgb: [u8; 3]) -> Self {
        Self::of_xyz(times(&FROM_SRGB, rgb.map(linear)))
    }

    /// As sRGB, 8 bits a channel; what sRGB cannot show is clipped.
    #[must_use]
    pub fn to_srgb(self) -> [u8; 3] {
        self.to_linear_srgb().map(encoded)
    }

    /// As light in the primaries of sRGB; beyond 0 to 1 where sRGB cannot show it.
    #[must_use]
    pub fn to_linear_srgb(self) -> [f64; 3] {
        times(&TO_SRGB, self.to_xyz())
    }

    /// Whether sRGB can show it, but for a rounding error.
    #[must_use]
    pub fn is_in_srgb(self) -> bool {
        self.to_linear_srgb().iter().all(|light| (-0.001..=1.001).contains(light))
    }

    /// From X, Y, Z relative to the white of the connection space.
    #[must_use]
    pub fn of_xyz(xyz: [f64; 3]) -> Self {
        let root = |i: usize| {
            let share: f64 = xyz[i] / WHITE[i];
            if share > EPSILON { share.cbrt() } else { (KAPPA * share + 16.0) / 116.0 }
        };
        let (x, y, z) = (root(0), root(1), root(2));
        Self::new(116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z))
    }

    /// As X, Y, Z relative to the white of the connection space.
    #[must_use]
    pub fn to_xyz(self) -> [f64; 3] {
        let y = (self.l + 16.0) / 116.0;
        let roots = [y + self.a / 500.0, y, y - self.b / 200.0];
        std::array::from_fn(|i| {
            let cubed = roots[i].powi(3);
            WHITE[i] * if cubed > EPSILON { cubed } else { (116.0 * roots[i] - 16.0) / KAPPA }
        })
    }

    /// How colourful it is: its distance from gray.
    #[must_use]
    pub fn chroma(self) -> f64 {
        self.a.hypot(self.b)
    }

    /// Its look as dye on a ground of another colour, itself having been seen on white.
    #[must_use]
    pub fn on(self, ground: Self) -> Self {
        let light = |colour: Self| times(&TO_BT2020, colour.to_xyz());
        let (dye, ground) = (light(self), light(ground));
        Self::of_xyz(times(&FROM_BT2020, std::array::from_fn(|i| dye[i].max(0.0) * ground[i].max(0.0))))
    }

    /// How different two colours look, as CIEDE2000 with unit weights; below 1 is hardly seen.
    #[must_use]
    pub fn difference(self, other: Self) -> f64 {
        let seventh = |c: f64| (c.powi(7) / (c.powi(7) + 25.0_f64.powi(7))).sqrt();
        let stretch = 1.5 - 0.5 * seventh(f64::midpoint(self.chroma(), other.chroma()));
        let (a1, a2) = (self.a * stretch, other.a * stretch);
        let (c1, c2) = (a1.hypot(self.b), a2.hypot(other.b));
        let (turn, mean_hue) = hues([a1, self.b], [a2, other.b]);
        let (mean_l, mean_c) = (f64::midpoint(self.l, other.l), f64::midpoint(c1, c2));
        let cos = |degrees: f64| degrees.to_radians().cos();
        let t =
            1.0 - 0.17 * cos(mean_hue - 30.0) + 0.24 * cos(2.0 * mean_hue) + 0.32 * cos(3.0 * mean_hue + 6.0)
                - 0.20 * cos(4.0 * mean_hue - 63.0);
        let off = (mean_l - 50.0).powi(2);
        let light = (other.l - self.l) / (1.0 + 0.015 * off / (20.0 + off).sqrt());
        let chroma = (c2 - c1) / (1.0 + 0.045 * mean_c);
        let turned = 2.0 * (c1 * c2).sqrt() * (turn / 2.0).to_radians().sin() / (1.0 + 0.015 * mean_c * t);
        let bend = 30.0 * (-((mean_hue - 275.0) / 25.0).powi(2)).exp();
        let rotation = -2.0 * seventh(mean_c) * (2.0 * bend).to_radians().sin();
        (light * light + chroma * chroma + turned * turned + rotation * chroma * turned).max(0.0).sqrt()
    }
}

/// From one hue to another, and the hue half-way, both in degrees; grays have none of their own.
fn hues(one: [f64; 2], other: [f64; 2]) -> (f64, f64) {
    let gray = |[a, b]: [f64; 2]| a == 0.0 && b == 0.0;
    let hue = |[a, b]: [f64; 2]| if gray([a, b]) { 0.0 } else { b.atan2(a).to_degrees().rem_euclid(360.0) };
    let (h1, h2) = (hue(one), hue(other));
    if gray(one) || gray(other) {
        return (0.0, h1 + h2);
    }
    let turn = match h2 - h1 {
        turn if turn > 180.0 => turn - 360.0,
        turn if turn < -180.0 => turn + 360.0,
        turn => turn,
    };
    let mean = match h1 + h2 {
        sum if (h1 - h2).abs() <= 180.0 => sum / 2.0,
        sum if sum < 360.0 => (sum + 360.0) / 2.0,
        sum => (sum - 360.0) / 2.0,
    };
    (turn, mean)
}

/// The light of an sRGB value, from 0 to 1 (IEC 61966-2-1:1999).
#[must_use]
pub fn linear(value: u8) -> f64 {
    let value = f64::from(value) / 255.0;
    if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
}

/// The nearest sRGB value of a light; what lies beyond 0 to 1 is clipped.
#[must_use]
pub fn encoded(light: f64) -> u8 {
    let value = if light <= 0.003_130_8 { light * 12.92 } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 };
    u8::try_from(num::pixels(value * 255.0)).unwrap_or(u8::MAX)
}

/// A ground on which many sRGB pixels are to be seen as dye: [`Lab::on`], by tables.
#[derive(Debug, Clone)]
pub struct Ground {
    light: [f64; 256],
    /// From linear sRGB of the print on white to linear sRGB on this ground.
    across: Matrix,
    codes: Vec<u8>,
}

/// Steps of the table from light to sRGB: fine enough that the code is at most one off, and that only at a border.
const STEPS: u32 = 1 << 14;

impl Ground {
    /// Of this colour.
    #[must_use]
    pub fn new(colour: Lab) -> Self {
        let ground = times(&TO_BT2020, colour.to_xyz()).map(|light| light.max(0.0));
        // Column by column: what becomes of one linear sRGB channel alone.
        let column = |i: usize| {
            let one: [f64; 3] = std::array::from_fn(|at| if at == i { 1.0 } else { 0.0 });
            let dye = times(&TO_BT2020, times(&FROM_SRGB, one));
            times(&TO_SRGB, times(&FROM_BT2020, std::array::from_fn(|i| dye[i] * ground[i])))
        };
        let columns: Matrix = std::array::from_fn(column);
        let across = std::array::from_fn(|row| std::array::from_fn(|i| columns[i][row]));
        let light = std::array::from_fn(|code| linear(u8::try_from(code).unwrap_or(u8::MAX)));
        let codes = (0..=STEPS).map(|step| encoded(f64::from(step) / f64::from(STEPS))).collect();
        Self { light, across, codes }
    }

    /// What a pixel of the print, seen on white, becomes on this ground; both in sRGB.
    #[must_use]
    pub fn printed(&self, rgb: [u8; 3]) -> [u8; 3] {
        let light = rgb.map(|code| self.light[usize::from(code)]);
        times(&self.across, light).map(|light| {
            let step = num::pixels(light * f64::from(STEPS)).min(STEPS);
            self.codes.get(num::index(step)).copied().unwrap_or(u8::MAX)
        })
    }
}
