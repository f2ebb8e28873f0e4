//! Being woken when something happens in the inbox. Everything that touches the notification library is here.
//!
//! Events are hints: they may be lost, doubled or say nothing. So each only rings a bell that can be rung once, and
//! where watching is not to be had (limits, file systems without notifications) the timer alone does.

use std::path::{Path, PathBuf};

use notify::event::{AccessKind, AccessMode};
use notify::{Event, EventKind, RecommendedWatcher, RecursiveMode, Watcher};
use tokio::sync::mpsc::{Receiver, Sender, channel};

/// A bell that rings when the inbox may have changed.
pub(crate) struct Wake {
    folder: PathBuf,
    bell: Sender<()>,
    heard: Receiver<()>,
    watcher: Option<RecommendedWatcher>,
    /// Which folder is watched: another may stand under its name by now.
    inode: Option<u64>,
    warned: bool,
}

impl std::fmt::Debug for Wake {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Wake")
            .field("folder", &self.folder)
            .field("watching", &self.watcher.is_some())
            .finish()
    }
}

impl Wake {
    pub(crate) fn new(folder: &Path) -> Self {
        let (bell, heard) = channel(1);
        let mut wake =
            Self { folder: folder.to_owned(), bell, heard, watcher: None, inode: None, warned: false };
        wake.renew();
        wake
    }

    /// Watches again if the folder was replaced or came back.
    pub(crate) fn renew(&mut self) {
        let inode = inode(&self.folder);
        if inode == self.inode && self.watcher.is_some() {
            return;
        }
        self.inode = inode;
        self.watcher = None;
        if inode.is_none() {
            return;
        }
        match watch(&self.folder, self.bell.clone()) {
            Ok(watcher) => self.watcher = Some(watcher),
            Err(why) if !self.warned => {
                self.warned = true;
                tracing::warn!(%why, "the inbox cannot be watched; it is looked through every few seconds instead");
            }
            Err(_) => {}
        }
    }

    /// Returns when the bell has rung.
    pub(crate) async fn heard(&mut self) {
        // The bell's own sender is kept here, so the channel never closes.
        let _rung: Option<()> = self.heard.recv().await;
    }
}

fn watch(folder: &Path, bell: Sender<()>) -> notify::Result<RecommendedWatcher> {
    let mut watcher = notify::recommended_watcher(move |event: notify::Result<Event>| {
        // Our own reading causes access events; they must not wake us. A full channel has been rung already.
        if !event.is_ok_and(|event| is_reading(&event)) {
            bell.try_send(()).unwrap_or_default();
        }
    })?;
    watcher.watch(folder, RecursiveMode::Recursive)?;
    Ok(watcher)
}

fn is_reading(event: &Event) -> bool {
    let written = EventKind::Access(AccessKind::Close(AccessMode::Write));
    matches!(event.kind, EventKind::Access(_)) && event.kind != written && !event.need_rescan()
}

fn inode(folder: &Path) -> Option<u64> {
    use std::os::unix::fs::MetadataExt as _;
    folder.metadata().ok().map(|facts| facts.ino())
}
