//! Being woken when something happens in the inbox. Everything that touches the notification library is here.
//!
//! Events are hints: they may be lost, doubled or say nothing. So each only rings a bell that can be rung once, and
//! where watching is not to be had (limits, file systems without notifications) the timer alone does.

use std::path::{Path, PathBuf};
use std::sync::Once;

use notify::event::{AccessKind, AccessMode};
use notify::{Config, Event, EventKind, RecommendedWatcher, RecursiveMode, Watcher};
use tokio::sync::mpsc::{Receiver, Sender, channel};

use crate::journal::CLAIMED;

/// A bell that rings when the inbox may have changed.
pub(crate) struct Wake {
    folder: PathBuf,
    bell: Sender<()>,
    heard: Receiver<()>,
    watcher: Option<RecommendedWatcher>,
    /// Which folder is watched: another may stand under its name by now.
    inode: Option<u64>,
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
        let mut wake = Self { folder: folder.to_owned(), bell, heard, watcher: None, inode: None };
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
        if inode.is_some() {
            self.watcher = watch(&self.folder, self.bell.clone()).map_err(|why| warn(&why)).ok();
        }
    }

    /// Returns when the bell has rung.
    pub(crate) async fn heard(&mut self) {
        // The bell's own sender is kept here, so the channel never closes.
        let _rung: Option<()> = self.heard.recv().await;
    }
}

fn watch(folder: &Path, bell: Sender<()>) -> notify::Result<RecommendedWatcher> {
    let claims = folder.join(CLAIMED);
    let hear = move |event: notify::Result<Event>| {
        match event {
            Ok(event) if is_nothing(&event, &claims) => return,
            Ok(_) => {}
            Err(why) => warn(&why),
        }
        // A full channel has been rung already.
        bell.try_send(()).unwrap_or_default();
    };
    // A link to a far folder must not have all of that watched.
    let config = Config::default().with_follow_symlinks(false);
    let mut watcher = RecommendedWatcher::new(hear, config)?;
    watcher.watch(folder, RecursiveMode::Recursive)?;
    Ok(watcher)
}

/// Reading causes events too, and so do our own claims: neither must wake us. An event that says that others were lost
/// has no paths and always counts.
fn is_nothing(event: &Event, claims: &Path) -> bool {
    let written = EventKind::Access(AccessKind::Close(AccessMode::Write));
    let read = matches!(event.kind, EventKind::Access(_)) && event.kind != written;
    let ours = !event.paths.is_empty() && event.paths.iter().all(|path| path.starts_with(claims));
    !event.need_rescan() && (read || ours)
}

/// Once: it is no reason to stop, and it would come again with every folder.
fn warn(why: &notify::Error) {
    static WARNED: Once = Once::new();
    WARNED.call_once(|| {
        tracing::warn!(
            %why,
            "the inbox cannot be watched as a whole; it is looked through every few seconds instead (where watches ran \
             out, the kernel setting fs.inotify.max_user_watches may be raised)"
        );
    });
}

fn inode(folder: &Path) -> Option<u64> {
    use std::os::unix::fs::MetadataExt as _;
    folder.metadata().ok().map(|facts| facts.ino())
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::time::Duration;

    use notify::event::{CreateKind, Flag, ModifyKind};

    use super::*;

    #[test]
    fn what_counts_as_something_happening() {
        let claims = Path::new("/in/.claimed");
        let event = |kind, path: &str| Event::new(kind).add_path(path.into());
        let created = EventKind::Create(CreateKind::File);
        assert!(!is_nothing(&event(created, "/in/chart.png"), claims), "a new file");
        assert!(is_nothing(&event(created, "/in/.claimed/x-123456/chart.png"), claims), "our own");
        assert!(
            is_nothing(&event(EventKind::Access(AccessKind::Open(AccessMode::Read)), "/in/a"), claims),
            "reading"
        );
        let out =
            event(EventKind::Modify(ModifyKind::Any), "/in/.claimed/a.png").add_path("/in/a.png".into());
        assert!(!is_nothing(&out, claims), "moved out of a claim by somebody");
        let lost = Event::new(EventKind::Other).set_flag(Flag::Rescan);
        assert!(!is_nothing(&lost, claims), "events were lost");
    }

    #[tokio::test]
    async fn a_folder_that_comes_back_is_watched_again() {
        let place = tempfile::tempdir().unwrap();
        let folder = place.path().join("incoming");
        fs::create_dir(&folder).unwrap();
        let mut wake = Wake::new(&folder);
        fs::remove_dir(&folder).unwrap();
        wake.renew();
        // Another folder stands between, so that the inode is another one too.
        fs::create_dir(place.path().join("between")).unwrap();
        fs::create_dir(&folder).unwrap();
        wake.renew();
        while tokio::time::timeout(Duration::from_millis(200), wake.heard()).await.is_ok() {}
        fs::File::create(folder.join("chart.png")).unwrap();
        tokio::time::timeout(Duration::from_secs(5), wake.heard()).await.expect("the bell rings");
    }

    #[tokio::test]
    async fn links_are_not_followed() {
        let place = tempfile::tempdir().unwrap();
        let (folder, far) = (place.path().join("incoming"), place.path().join("far"));
        for folder in [&folder, &far] {
            fs::create_dir(folder).unwrap();
        }
        std::os::unix::fs::symlink(&far, folder.join("link")).unwrap();
        let mut wake = Wake::new(&folder);
        while tokio::time::timeout(Duration::from_millis(200), wake.heard()).await.is_ok() {}
        fs::File::create(far.join("chart.png")).unwrap();
        assert!(
            tokio::time::timeout(Duration::from_millis(500), wake.heard()).await.is_err(),
            "it is far away"
        );
    }
}
