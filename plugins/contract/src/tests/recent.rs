//! What was worked out lately is worked out once.

use std::sync::atomic::{AtomicU32, Ordering};

use crate::recent::Recent;

#[test]
fn what_two_ask_for_at_once_is_worked_out_once() {
    let (recent, worked) = (Recent::<u32, u32, 2>::new(), AtomicU32::new(0));
    let work = || {
        std::thread::yield_now();
        Ok::<_, ()>(worked.fetch_add(1, Ordering::Relaxed))
    };
    std::thread::scope(|scope| {
        for _ in 0..8 {
            scope.spawn(|| assert_eq!(recent.get(&7, work), Ok(0), "one answer"));
        }
    });
    assert_eq!(worked.into_inner(), 1, "worked out once");
}

#[test]
fn only_the_last_answers_are_kept_and_no_failures() {
    let recent = Recent::<u32, u32, 2>::new();
    assert_eq!(recent.get(&1, || Err("no")), Err("no"), "the first fails");
    for (asked, answer) in [(1, 10), (2, 20), (3, 30)] {
        assert_eq!(recent.get(&asked, || Ok::<_, ()>(answer)), Ok(answer), "worked out");
    }
    assert_eq!(recent.get(&2, || Ok::<_, ()>(21)), Ok(20), "kept");
    assert_eq!(recent.get(&1, || Ok::<_, ()>(11)), Ok(11), "gone");
}
