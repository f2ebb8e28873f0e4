//! Where decoded rows go, one after another.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread::JoinHandle;

use crate::Limits;
use crate::contract::Fault;
use crate::contract::num;
use crate::contract::picture::{Depth, Format, Pixels, Samples};
use crate::rows::{Bands, Held, Rows, Scratch, one_too_many, stride, tall};

/// Most bytes of a picture that are held in memory where there is a file for the rest: a picture of a mat that is larger
/// than what its sheets need is then not what decides how many jobs can be worked side by side.
const MOST_HELD: u64 = 96 << 20;

/// One row of the picture, to be written.
#[derive(Debug)]
pub(crate) enum Row<'a> {
    /// 8 bits a sample.
    Eight(&'a mut [u8]),
    /// 16 bits a sample.
    Sixteen(&'a mut [u16]),
}

/// Takes a picture's rows from top to bottom.
#[derive(Debug)]
pub(crate) struct Sink {
    pub(crate) rows: Arc<Rows>,
    /// The band that is being filled.
    band: Samples,
    /// Bands to be filled, made by another thread.
    fresh: Option<Receiver<Result<Samples, Fault>>>,
    /// What writes them where they do not stay in memory.
    writing: Option<Writing>,
    tall: usize,
    done: usize,
}

impl Sink {
    /// For a picture that comes row by row: in memory if it fits and is not very large, else from some row on in an unlinked
    /// scratch file.
    pub(crate) fn streaming(size: Pixels, format: Format, limits: &Limits) -> Result<Self, Fault> {
        if bytes(size, format) <= limits.memory.min(MOST_HELD) {
            return Ok(Self::in_memory(size, format));
        }
        // Rows are not all that takes memory.
        let most = (limits.memory / 2).min(MOST_HELD);
        let row = bytes(Pixels::new(size.width, 1), format).max(1);
        let tall = tall(size, format);
        let count = usize::try_from(most / row).unwrap_or(usize::MAX) / tall * tall;
        let file = tempfile::tempfile_in(&limits.scratch).map_err(|error| scratch_fault(&error))?;
        let held = held(size, format, count);
        Ok(Self::into(Rows { scratch: Some(Scratch::new(file)), count, ..Rows::new(size, format, held) }))
    }

    /// For a picture known to fit into memory.
    pub(crate) fn in_memory(size: Pixels, format: Format) -> Self {
        Self::into(Rows::new(size, format, held(size, format, num::index(size.height))))
    }

    /// For 8-bit rows that are all there already.
    pub(crate) fn whole(size: Pixels, format: Format, rows: Vec<u8>) -> Self {
        let done = num::index(size.height);
        let sink = Self::into(Rows::new(size, format, Held::Eight(Bands::whole(size, format, rows))));
        sink.rows.progress.reach(done);
        Self { done, ..sink }
    }

    fn into(rows: Rows) -> Self {
        let tall = tall(rows.size, rows.format);
        let band = Samples::Eight(Vec::new());
        Self { rows: Arc::new(rows), band, fresh: None, writing: None, tall, done: 0 }
    }

    /// Lets `fill` write the next row.
    pub(crate) fn row(&mut self, fill: impl FnOnce(Row<'_>) -> Result<(), Fault>) -> Result<(), Fault> {
        let height = num::index(self.rows.size.height);
        if self.done >= height {
            return Err(one_too_many());
        }
        let stride = stride(self.rows.size, self.rows.format);
        let at = self.done % self.tall;
        if at == 0 {
            let (size, format, done) = (self.rows.size, self.rows.format, self.done);
            let fresh = self.fresh.get_or_insert_with(|| fresh_bands(size, format));
            // Where that thread is not to be had, they are made here.
            self.band = fresh.recv().unwrap_or_else(|_| fresh_band(size, format, done))?;
        }
        let place = at * stride..(at + 1) * stride;
        match &mut self.band {
            Samples::Eight(band) => fill(Row::Eight(band.get_mut(place).unwrap_or_default()))?,
            Samples::Sixteen(band) => fill(Row::Sixteen(band.get_mut(place).unwrap_or_default()))?,
        }
        self.done += 1;
        if self.done.is_multiple_of(self.tall) || self.done == height {
            self.hand_over()?;
        }
        Ok(())
    }

    /// Gives the complete band to whoever waits for it.
    fn hand_over(&mut self) -> Result<(), Fault> {
        let band = std::mem::replace(&mut self.band, Samples::Eight(Vec::new()));
        if self.done > self.rows.count {
            return self.write(band);
        }
        let last = self.done.saturating_sub(1);
        match (&self.rows.held, band) {
            (Held::Eight(bands), Samples::Eight(band)) => bands.put(last, band)?,
            (Held::Sixteen(bands), Samples::Sixteen(band)) => bands.put(last, band)?,
            _ => return Err(Fault::defect("a band did not take the depth it was given")),
        }
        self.rows.progress.reach(self.done);
        Ok(())
    }

    fn write(&mut self, band: Samples) -> Result<(), Fault> {
        let writing = match self.writing.take() {
            Some(writing) => writing,
            None => Writing::begin(Arc::clone(&self.rows))?,
        };
        if writing.to.send((band, self.done)).is_ok() {
            self.writing = Some(writing);
            return Ok(());
        }
        // It has ended before its time, and says why.
        writing.end()
    }

    /// No more rows will come, for this reason.
    pub(crate) fn end(mut self, result: Result<(), Fault>) {
        let written = self.writing.take().map_or(Ok(()), Writing::end);
        self.rows.progress.end(result.and(written));
    }
}

/// A thread that writes bands into the scratch file, while the next ones are decoded.
#[derive(Debug)]
struct Writing {
    /// Bands, and how many rows are there with each.
    to: SyncSender<(Samples, usize)>,
    thread: JoinHandle<Result<(), Fault>>,
}

impl Writing {
    fn begin(rows: Arc<Rows>) -> Result<Self, Fault> {
        const AHEAD: usize = 2;
        let (to, bands) = sync_channel(AHEAD);
        let write = move || {
            let Some(scratch) = &rows.scratch else { return Err(one_too_many()) };
            for (band, done) in bands {
                match band {
                    Samples::Eight(band) => scratch.write(&band)?,
                    Samples::Sixteen(band) => {
                        scratch.write(
                            &band.iter().flat_map(|sample| sample.to_ne_bytes()).collect::<Vec<u8>>(),
                        )?;
                    }
                }
                rows.progress.reach(done);
            }
            Ok(())
        };
        let thread = std::thread::Builder::new().spawn(write).map_err(|why| no_thread(&why))?;
        Ok(Self { to, thread })
    }

    /// Waits until all is written.
    fn end(self) -> Result<(), Fault> {
        drop(self.to);
        self.thread.join().unwrap_or_else(|_| Err(Fault::defect("writing the scratch file broke off")))
    }
}

/// A thread could not be begun.
pub(crate) fn no_thread(why: &std::io::Error) -> Fault {
    Fault::machine(format!("No thread could be begun: {why}."), "Close other programs, or lower `workers`.")
}

/// The bands of a picture, zeroed by a thread of their own: memory that is used for the first time costs a good part of what
/// it takes to decode a PNG into it.
fn fresh_bands(size: Pixels, format: Format) -> Receiver<Result<Samples, Fault>> {
    const AHEAD: usize = 2;
    let (ready, fresh) = sync_channel(AHEAD);
    let make = move || {
        let tops = (0..num::index(size.height)).step_by(tall(size, format));
        for band in tops.map(|top| fresh_band(size, format, top)) {
            if ready.send(band).is_err() {
                break;
            }
        }
    };
    // A thread that cannot be had drops its end of the channel, which the other end sees.
    drop(std::thread::Builder::new().spawn(make));
    fresh
}

/// The band that begins with this row.
fn fresh_band(size: Pixels, format: Format, top: usize) -> Result<Samples, Fault> {
    let samples = stride(size, format) * tall(size, format).min(num::index(size.height) - top);
    match format.depth {
        Depth::Eight => room(samples).map(Samples::Eight),
        Depth::Sixteen => room(samples).map(Samples::Sixteen),
    }
}

/// Room for the first rows of a picture.
fn held(size: Pixels, format: Format, rows: usize) -> Held {
    match format.depth {
        Depth::Eight => Held::Eight(Bands::new(size, format, rows)),
        Depth::Sixteen => Held::Sixteen(Bands::new(size, format, rows)),
    }
}

/// Bytes a picture takes.
pub(crate) fn bytes(size: Pixels, format: Format) -> u64 {
    size.count().saturating_mul(u64::try_from(format.bytes()).unwrap_or(u64::MAX))
}

/// Memory for so many samples, all zero, or a fault instead of an abort.
pub(crate) fn room<T: Clone + Default>(samples: usize) -> Result<Vec<T>, Fault> {
    let mut room = Vec::new();
    room.try_reserve_exact(samples).map_err(|_| {
        Fault::machine(
            format!("There is not enough memory for {samples} samples of the artwork."),
            "Lower `memory` or `workers`, or close other programs.",
        )
    })?;
    room.resize(samples, T::default());
    Ok(room)
}

/// The scratch file could not be used.
pub(crate) fn scratch_fault(error: &std::io::Error) -> Fault {
    Fault::machine(
        format!("The artwork is too large for memory, and the scratch file for it failed: {error}."),
        "Make room on the studio's disk, or raise `memory`.",
    )
}
