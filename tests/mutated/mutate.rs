//! Ways to damage a clip, all of them told by a seed: the same seed, the same damage.

/// Numbers from a seed (Knuth's constants for MMIX).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        let mut dice = Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5bf0_3635);
        for _ in 0..4 {
            dice.next();
        }
        dice
    }

    fn next(&mut self) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        self.0 >> 33
    }

    /// A number below `end`, which is above 0.
    pub fn below(&mut self, end: usize) -> usize {
        (self.next() as usize) % end.max(1)
    }

    fn byte(&mut self) -> u8 {
        (self.next() >> 8) as u8
    }
}

/// A box of an MP4 (ISO/IEC 14496-12, 4.2): where it begins and how long it is.
#[derive(Clone, Copy, Debug)]
pub struct Part {
    pub at: usize,
    pub length: usize,
}

/// Boxes that hold boxes, all the way down to the tables of samples.
const HOLDERS: [&[u8]; 7] = [
    b"moov", b"trak", b"mdia", b"minf", b"stbl", b"edts", b"dinf",
];

/// All boxes of a file, those inside others as well.
pub fn parts(bytes: &[u8]) -> Vec<Part> {
    let mut all = Vec::new();
    let mut open = vec![(0, bytes.len())];
    while let Some((mut at, end)) = open.pop() {
        while at + 8 <= end {
            let length = number(bytes, at);
            if length < 8 || at + length > end {
                break;
            }
            all.push(Part { at, length });
            if HOLDERS.contains(&&bytes[at + 4..at + 8]) {
                open.push((at + 8, at + length));
            }
            at += length;
        }
    }
    all
}

fn number(bytes: &[u8], at: usize) -> usize {
    let four = bytes[at..at + 4].try_into().expect("four bytes");
    u32::from_be_bytes(four) as usize
}

/// Numbers that programs are bad at.
const AWKWARD: [u32; 12] = [
    0,
    1,
    2,
    7,
    8,
    255,
    65_535,
    0x00ff_ffff,
    0x7fff_ffff,
    0x8000_0000,
    0xffff_fff0,
    u32::MAX,
];

/// What can be done to a file.
const WAYS: usize = 12;

/// The name of a way of damaging.
pub fn way(seed: u64) -> &'static str {
    match seed as usize % WAYS {
        0 => "bytes flipped",
        1 => "bytes flipped in the index",
        2 => "cut short",
        3 => "a stretch zeroed",
        4 => "a stretch of noise",
        5 => "two stretches exchanged",
        6 => "boxes reordered",
        7 => "a size lied about",
        8 => "a number of the index lied about",
        9 => "a box left out",
        10 => "a box twice",
        _ => "bytes put in between",
    }
}

/// The file, damaged in the way of this seed.
pub fn damaged(whole: &[u8], seed: u64) -> Vec<u8> {
    let mut dice = Dice::new(seed);
    let mut bytes = whole.to_vec();
    let parts = parts(whole);
    let index: Vec<Part> = parts
        .iter()
        .copied()
        .filter(|part| {
            ![&b"mdat"[..], b"ftyp", b"free"].contains(&&whole[part.at + 4..part.at + 8])
        })
        .collect();
    let one = |dice: &mut Dice, of: &[Part]| of[dice.below(of.len())];
    match seed as usize % WAYS {
        0 => flip(&mut bytes, (0, whole.len()), &mut dice),
        1 => {
            let moov = one(&mut dice, &index);
            flip(&mut bytes, (moov.at, moov.length), &mut dice);
        }
        2 => bytes.truncate(dice.below(whole.len())),
        3 => {
            let (at, length) = stretch(whole, &mut dice);
            bytes[at..at + length].fill(0);
        }
        4 => {
            let (at, length) = stretch(whole, &mut dice);
            bytes[at..at + length].fill_with(|| dice.byte());
        }
        5 => {
            let length = 1 + dice.below(whole.len() / 4);
            let first = dice.below(whole.len() - 2 * length);
            let second = first + length + dice.below(whole.len() - first - 2 * length);
            for i in 0..length {
                bytes.swap(first + i, second + i);
            }
        }
        6 => reorder(&mut bytes, whole, &parts, &mut dice),
        7 => {
            let part = one(&mut dice, &parts);
            let off = part.length as u32;
            let lie = match dice.below(3) {
                0 => off.wrapping_add(dice.below(17) as u32).wrapping_sub(8),
                _ => AWKWARD[dice.below(AWKWARD.len())],
            };
            bytes[part.at..part.at + 4].copy_from_slice(&lie.to_be_bytes());
        }
        8 => {
            for _ in 0..1 + dice.below(3) {
                let part = one(&mut dice, &index);
                let at = part.at + 8 + 4 * dice.below((part.length - 8) / 4);
                if at + 4 <= part.at + part.length {
                    let lie = AWKWARD[dice.below(AWKWARD.len())];
                    bytes[at..at + 4].copy_from_slice(&lie.to_be_bytes());
                }
            }
        }
        9 => {
            let part = one(&mut dice, &parts);
            bytes.drain(part.at..part.at + part.length);
        }
        10 => {
            let part = one(&mut dice, &parts);
            let copy = whole[part.at..part.at + part.length].to_vec();
            bytes.splice(part.at..part.at, copy);
        }
        _ => {
            let at = dice.below(whole.len());
            let more: Vec<u8> = (0..1 + dice.below(64)).map(|_| dice.byte()).collect();
            bytes.splice(at..at, more);
        }
    }
    bytes
}

fn flip(bytes: &mut [u8], (at, length): (usize, usize), dice: &mut Dice) {
    for _ in 0..1 + dice.below(16) {
        bytes[at + dice.below(length)] ^= 1 << dice.below(8);
    }
}

fn stretch(whole: &[u8], dice: &mut Dice) -> (usize, usize) {
    let length = (1 << dice.below(14)).min(whole.len() / 2);
    (dice.below(whole.len() - length), length)
}

/// Exchanges a box with the one that follows it in the same holder.
fn reorder(bytes: &mut Vec<u8>, whole: &[u8], parts: &[Part], dice: &mut Dice) {
    let neighbours: Vec<(Part, Part)> = parts
        .iter()
        .flat_map(|a| {
            let next = parts.iter().find(|b| b.at == a.at + a.length);
            next.map(|b| (*a, *b))
        })
        .collect();
    let (a, b) = neighbours[dice.below(neighbours.len())];
    let exchanged = [&whole[b.at..b.at + b.length], &whole[a.at..a.at + a.length]].concat();
    bytes.splice(a.at..b.at + b.length, exchanged);
}
