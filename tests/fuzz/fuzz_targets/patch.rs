//! Any text as a floor patch, any bytes as the file where one is kept.
#![no_main]

use std::cell::RefCell;

use libfuzzer_sys::fuzz_target;
use underfoot::video::PatchSpec;
use underfoot::video::kept::{kept_path, load};

thread_local! {
    static FOLDER: RefCell<Option<tempfile::TempDir>> = const { RefCell::new(None) };
}

fuzz_target!(|bytes: &[u8]| {
    if let Ok(text) = std::str::from_utf8(bytes)
        && let Ok(spec) = text.parse::<PatchSpec>()
    {
        assert_eq!(spec.to_string().parse().ok(), Some(spec));
        for size in [(640, 360), (1, 1), (u32::MAX, u32::MAX)] {
            if let Ok(patch) = spec.resolve(size) {
                assert_eq!(patch.check(size).ok(), Some(patch));
            }
        }
    }
    FOLDER.with_borrow_mut(|folder| {
        let folder = folder.get_or_insert_with(|| tempfile::tempdir().expect("a folder"));
        let clip = folder.path().join("clip.mp4");
        std::fs::write(kept_path(&clip), bytes).expect("room");
        if let Ok(Some(kept)) = load(&clip) {
            let size = kept.picture();
            assert!(
                kept.for_size(size)
                    .is_ok_and(|patch| patch.check(size).is_ok())
            );
        }
    });
});
