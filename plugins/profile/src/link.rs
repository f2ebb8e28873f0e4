//! A conversion from RGB to a printer's values as a table of our own: fast enough for a wall cloth, sampled from the
//! engine's exact way.
//!
//! The engine's own fast path does about 50 million pixels a second; interpolating between the nodes of such a table does
//! about twice as many, which counts where a night has hundreds of millions. 33 nodes an axis keep within 0.7 CIEDE2000
//! of the exact way (0.02 in the mean) for all pairs measured; the absolute intent, whose corners at the paper's white are
//! sharp, takes 49, and so do sources that are tables themselves. The nodes stand evenly in lightness, not in the samples'
//! own values, or linear light would have no darks. Between nodes a colour lies in one of six tetrahedra, whose four corners are weighed. The node of white
//! is made bare, as the engine's own fast path does it: else every bare place would get a dot of dye.

use std::thread;

use seamwright_contract::num;

/// Nodes an axis, and where corners are sharp.
pub(crate) const NODES: usize = 33;
pub(crate) const FINE_NODES: usize = 49;

/// Full scale of a sample.
const FULL: u32 = 65535;

/// The table.
#[derive(Debug)]
pub(crate) struct Link {
    nodes: usize,
    /// What comes out at each node, of 255, red slowest; channels that there are not stay 0. What the target cannot show
    /// reaches beyond that and is cut off after interpolating, so that the bend stays sharp. As floats, for plain
    /// processors multiply four of those at once, but not four whole numbers.
    values: Vec<[f32; 4]>,
    /// Where each 16-bit sample lies: the node before it, never the last, and how far beyond it, of the full scale.
    places: Vec<[u16; 2]>,
}

/// How samples of the three axes are spread: where samples at equal distances lie between 0 and 1, rising.
#[derive(Debug)]
pub(crate) struct Spread(Vec<f64>);

impl Spread {
    /// By the lightness of grays at equal distances from the darkest sample to the fullest.
    pub(crate) fn by_lightness(lightness: &[f64]) -> Self {
        let last = f64::from(count(lightness.len().max(2) - 1));
        let mut highest = 0.0_f64;
        // A tenth goes by the samples themselves, so that no two lie in one place.
        let mut spread: Vec<f64> = (0..)
            .zip(lightness)
            .map(|(at, l)| {
                highest = highest.max(*l);
                0.9 * highest + 10.0 * f64::from(at) / last
            })
            .collect();
        let (low, high) = (spread.first().copied().unwrap_or(0.0), spread.last().copied().unwrap_or(1.0));
        spread.iter_mut().for_each(|place| *place = (*place - low) / (high - low).max(1e-9));
        Self(spread)
    }

    /// Where a sample from 0 to 1 lies.
    fn of(&self, sample: f64) -> f64 {
        let along = sample * f64::from(count(self.0.len().max(2) - 1));
        let before = num::pixels(along.floor()).min(count(self.0.len().max(2) - 2));
        let at = |step: u32| self.0.get(num::index(step)).copied().unwrap_or(1.0);
        let share = along - f64::from(before);
        at(before) * (1.0 - share) + at(before + 1) * share
    }

    /// Which sample lies there.
    fn sample(&self, place: f64) -> f64 {
        let steps = f64::from(count(self.0.len().max(2) - 1));
        let after = self.0.partition_point(|at| *at <= place).clamp(1, self.0.len().max(2) - 1);
        let at = |step: usize| self.0.get(step).copied().unwrap_or(1.0);
        let (low, high) = (at(after - 1), at(after));
        ((f64::from(count(after - 1)) + (place - low) / (high - low).max(1e-12)) / steps).clamp(0.0, 1.0)
    }
}

impl Link {
    /// Sampled from an exact conversion, which takes RGB and gives up to four values a pixel, all from 0 to 1; `bare` is
    /// what white becomes, where that is not left to the conversion.
    pub(crate) fn new(
        nodes: usize,
        spread: &Spread,
        bare: Option<[f32; 4]>,
        exact: impl Fn(&[[f64; 3]]) -> Vec<[f32; 4]> + Sync,
    ) -> Self {
        let steps = f64::from(count(nodes - 1));
        let stops: Vec<f64> = (0..nodes).map(|at| spread.sample(f64::from(count(at)) / steps)).collect();
        let step = |at: usize| stops.get(at).copied().unwrap_or(1.0);
        let plane = |red: usize| {
            let grid: Vec<[f64; 3]> =
                (0..nodes * nodes).map(|at| [step(red), step(at / nodes), step(at % nodes)]).collect();
            exact(&grid)
        };
        // Each thread takes every so-manieth plane.
        let threads = thread::available_parallelism().map_or(1, usize::from).min(nodes);
        let mut planes: Vec<Vec<[f32; 4]>> = vec![Vec::new(); nodes];
        thread::scope(|scope| {
            let plane = &plane;
            let parts: Vec<_> = (0..threads)
                .map(|first| {
                    scope.spawn(move || (first..nodes).step_by(threads).map(plane).collect::<Vec<_>>())
                })
                .collect();
            for (first, part) in parts.into_iter().enumerate() {
                // A thread that panicked leaves its planes empty, and they are worked here.
                let part = part.join().unwrap_or_default();
                for (at, values) in (first..nodes).step_by(threads).zip(part) {
                    planes[at] = values;
                }
            }
        });
        let mut values: Vec<[f32; 4]> = (0..nodes)
            .zip(planes)
            .flat_map(|(red, values)| if values.is_empty() { plane(red) } else { values })
            .collect();
        if let (Some(bare), Some(white)) = (bare, values.last_mut()) {
            *white = bare;
        }
        let places =
            (0..=FULL).map(|sample| place(spread.of(f64::from(sample) / f64::from(FULL)), nodes)).collect();
        Self { nodes, values, places }
    }

    /// What 8-bit RGB becomes, of 255.
    pub(crate) fn of_eight(&self, rgb: [u8; 3]) -> [f32; 4] {
        self.of_sixteen(rgb.map(num::widen))
    }

    /// What 16-bit RGB becomes, of 255.
    pub(crate) fn of_sixteen(&self, rgb: [u16; 3]) -> [f32; 4] {
        self.between(rgb.map(|sample| self.places.get(usize::from(sample)).copied().unwrap_or_default()))
    }

    /// From the corners of the tetrahedron in which a colour lies: from the node before it along the axis on which it has
    /// come furthest, then the next, then the last.
    fn between(&self, [red, green, blue]: [[u16; 2]; 3]) -> [f32; 4] {
        let row = self.nodes;
        let base = (usize::from(red[0]) * row + usize::from(green[0])) * row + usize::from(blue[0]);
        // How far beyond the node, and above it the step to the next one: sorting such pairs needs no branches.
        let pair = |beyond: u16, step: usize| (u64::from(beyond) << 32) | u64::from(count(step));
        let (r, g, b) = (pair(red[1], row * row), pair(green[1], row), pair(blue[1], 1));
        let (high, low) = (r.max(g), r.min(g));
        let (first, rest) = (high.max(b), high.min(b));
        let (second, third) = (rest.max(low), rest.min(low));
        let beyond = |pair: u64| f32::from(u16::try_from(pair >> 32).unwrap_or(u16::MAX)) * (1.0 / 65535.0);
        let step = |pair: u64| num::index(u32::try_from(pair & 0xFFFF_FFFF).unwrap_or(0));
        let (one, two, three) = (beyond(first), beyond(second), beyond(third));
        let node = |at: usize| self.values.get(at).copied().unwrap_or([0.0; 4]);
        let (after_one, after_two) = (base + step(first), base + step(first) + step(second));
        let corners = [node(base), node(after_one), node(after_two), node(after_two + step(third))];
        let weights = [1.0 - one, one - two, two - three, three];
        std::array::from_fn(|i| {
            (weights[0] * corners[0][i] + weights[1] * corners[1][i])
                + (weights[2] * corners[2][i] + weights[3] * corners[3][i])
        })
    }
}

/// The node before a place from 0 to 1, never the last, and how far beyond it that is.
fn place(at: f64, nodes: usize) -> [u16; 2] {
    let steps = count(nodes - 1);
    let along = at.clamp(0.0, 1.0) * f64::from(steps);
    let node = num::pixels(along.floor()).min(steps - 1);
    let beyond = num::pixels((along - f64::from(node)) * f64::from(FULL)).min(FULL);
    [node, beyond].map(|part| u16::try_from(part).unwrap_or(u16::MAX))
}

fn count(value: usize) -> u32 {
    num::count(value)
}
