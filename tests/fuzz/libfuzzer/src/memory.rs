//! The system's memory, counted: a run that holds too much of it is ended.

use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::atomic::{AtomicUsize, Ordering};

/// Hands out at most so many bytes at a time.
pub(crate) struct Counted {
    held: AtomicUsize,
    most: usize,
}

impl Counted {
    pub(crate) const fn new(most: usize) -> Self {
        Self { held: AtomicUsize::new(0), most }
    }

    fn take(&self, bytes: usize) {
        if self.held.fetch_add(bytes, Ordering::Relaxed).saturating_add(bytes) > self.most {
            // Whoever says so needs memory, too.
            self.held.store(0, Ordering::Relaxed);
            eprintln!("more than {} MiB of memory are held", self.most >> 20);
            std::process::abort();
        }
    }

    fn give_back(&self, bytes: usize) {
        self.held.fetch_sub(bytes, Ordering::Relaxed);
    }
}

// SAFETY: all is done by the system's allocator; counting changes nothing of it.
unsafe impl GlobalAlloc for Counted {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        self.take(layout.size());
        // SAFETY: as asked for.
        unsafe { System.alloc(layout) }
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        self.take(layout.size());
        // SAFETY: as asked for.
        unsafe { System.alloc_zeroed(layout) }
    }

    unsafe fn dealloc(&self, pointer: *mut u8, layout: Layout) {
        self.give_back(layout.size());
        // SAFETY: as asked for.
        unsafe { System.dealloc(pointer, layout) }
    }
}
