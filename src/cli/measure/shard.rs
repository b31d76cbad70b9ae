//! Which clips are this process's, where several share the work.

use std::path::{Component, Path};
use std::str::FromStr;

use sha2::{Digest, Sha256};

/// One of several processes that measure the same clips: `2/8` is the second of eight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::cli) struct Shard {
    number: u32,
    of: u32,
}

impl FromStr for Shard {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let parts = text.split_once('/');
        let numbers = parts.and_then(|(number, of)| Some((number.parse().ok()?, of.parse().ok()?)));
        match numbers {
            Some((number, of)) if (1..=of).contains(&number) => Ok(Self { number, of }),
            _ => {
                Err("give the number of the part and how many there are, such as 1/8 to 8/8".into())
            }
        }
    }
}

impl Shard {
    /// Whether the clip is this part's.
    ///
    /// The path alone decides, not the clip's place among the others: a clip that
    /// appears or goes while the parts are at work moves no other clip to another
    /// part. So every part must be given the same paths. `./a//b` is the same as `a/b`.
    pub(super) fn has(self, clip: &Path) -> bool {
        let mut hash = Sha256::new();
        for part in clip.components().filter(|part| *part != Component::CurDir) {
            hash.update(part.as_os_str().as_encoded_bytes());
            hash.update(b"/");
        }
        let hash: [u8; 32] = hash.finalize().into();
        let first = hash.first_chunk().copied().map_or(0, u64::from_be_bytes);
        first % u64::from(self.of) == u64::from(self.number - 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shards(of: u32) -> Vec<Shard> {
        (1..=of).map(|number| Shard { number, of }).collect()
    }

    #[test]
    fn each_clip_is_in_one_part_and_the_parts_are_about_equal() {
        for of in [1, 2, 7, 40] {
            let shards = shards(of);
            let mut sizes = vec![0_u32; shards.len()];
            for clip in 0..4000 {
                let name = format!("clips/IMG_{clip:04}.MOV");
                let owners: Vec<usize> = (0..shards.len())
                    .filter(|&at| shards[at].has(Path::new(&name)))
                    .collect();
                assert_eq!(owners.len(), 1, "{name}: {owners:?}");
                sizes[owners[0]] += 1;
            }
            // Binomial: five standard deviations.
            let mean = 4000.0 / f64::from(of);
            for size in sizes {
                assert!(
                    (f64::from(size) - mean).abs() <= 5.0 * mean.sqrt(),
                    "{size} of {mean}"
                );
            }
        }
    }

    #[test]
    fn the_part_hangs_on_the_path_however_it_is_written() {
        let owner = |path: &str| shards(1000).iter().position(|s| s.has(Path::new(path)));
        assert_eq!(owner("clips/a.mp4"), owner("./clips//a.mp4"));
        assert_eq!(owner("clips/a.mp4"), owner("clips/./a.mp4"));
        assert_ne!(owner("clips/a.mp4"), owner("clip/sa.mp4"));
        // The first eight bytes of the SHA-256 of "clips/a.mp4/", as sha256sum gives
        // them, modulo 1000: parts stay the same from version to version.
        assert_eq!(owner("clips/a.mp4"), Some(EXAMPLE));
    }

    const EXAMPLE: usize = 109;

    #[test]
    fn only_parts_that_can_be_are_taken() {
        assert_eq!("2/8".parse(), Ok(Shard { number: 2, of: 8 }));
        for bad in ["0/8", "9/8", "1", "1/0", "-1/8", "1/8/2", "a/b", ""] {
            assert!(bad.parse::<Shard>().is_err(), "{bad}");
        }
    }
}
