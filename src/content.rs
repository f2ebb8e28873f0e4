//! What is sent over HTTP: a text, a file piece by piece, or one after the other.

use std::fs::File;
use std::io::{self, Read as _};
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use hyper::body::{Body, Bytes, Frame, SizeHint};
use tokio::sync::{Notify, mpsc};

/// Bytes of a file that are read at a time.
const CHUNK: u64 = 64 << 10;

/// A body of known length.
pub(crate) struct Content {
    left: u64,
    text: Bytes,
    file: Option<mpsc::Receiver<io::Result<Bytes>>>,
    /// Rung for each piece that goes out.
    bell: Option<Arc<Notify>>,
}

impl Content {
    pub(crate) const fn empty() -> Self {
        Self { left: 0, text: Bytes::new(), file: None, bell: None }
    }

    pub(crate) fn text(text: Bytes) -> Self {
        Self { left: length(&text), text, file: None, bell: None }
    }

    /// Read on a thread for such work, no faster than it is taken.
    pub(crate) fn file(file: File, length: u64) -> Self {
        let (give, take) = mpsc::channel(2);
        tokio::task::spawn_blocking(move || {
            // No more than was promised, should it grow.
            let mut file = file.take(length);
            loop {
                let mut chunk = Vec::new();
                let read = (&mut file).take(CHUNK).read_to_end(&mut chunk);
                let (last, piece) = (!matches!(read, Ok(1..)), read.map(|_| Bytes::from(chunk)));
                if piece.as_ref().is_ok_and(Bytes::is_empty) || give.blocking_send(piece).is_err() || last {
                    break;
                }
            }
        });
        Self { left: length, text: Bytes::new(), file: Some(take), bell: None }
    }

    /// The same with a text before it.
    pub(crate) fn after(self, text: Bytes) -> Self {
        Self { left: self.left + length(&text), text, ..self }
    }

    /// The same, ringing for each piece that goes out.
    pub(crate) fn ringing(self, bell: Arc<Notify>) -> Self {
        Self { bell: Some(bell), ..self }
    }

    /// The bytes that are yet to be sent.
    pub(crate) const fn left(&self) -> u64 {
        self.left
    }
}

fn length(text: &Bytes) -> u64 {
    text.len().try_into().unwrap_or(u64::MAX)
}

impl Body for Content {
    type Data = Bytes;
    type Error = io::Error;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, io::Error>>> {
        let text = std::mem::take(&mut self.text);
        let next = match &mut self.file {
            _ if !text.is_empty() => Some(Ok(text)),
            None => None,
            Some(take) => match take.poll_recv(context) {
                Poll::Ready(next) => next,
                Poll::Pending => return Poll::Pending,
            },
        };
        self.bell.iter().for_each(|bell| bell.notify_one());
        if let Some(Ok(bytes)) = &next {
            self.left = self.left.saturating_sub(length(bytes));
        }
        Poll::Ready(next.map(|next| next.map(Frame::data)))
    }

    fn is_end_stream(&self) -> bool {
        self.left == 0
    }

    fn size_hint(&self) -> SizeHint {
        SizeHint::with_exact(self.left)
    }
}
