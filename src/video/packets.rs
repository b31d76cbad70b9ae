//! When each frame is shown, read without decoding anything.

use ffmpeg_next as ff;

use super::clip::Clip;
use super::container::Container;
use super::fault::ClipError;
use super::ffmpeg;

/// Packets of one clip that are believed: over two hours at 240 fps.
const MAX_PACKETS: usize = 2_000_000;

/// Damaged stretches in a row that are skipped before giving up.
const MAX_READ_FAULTS: u32 = 256;

/// One coded frame as the container lists it. Times are in ticks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Packet {
    /// Presentation time, where the container knows it.
    pub pts: Option<i64>,
    /// Decoding time, where the container knows it.
    pub dts: Option<i64>,
    /// Bytes.
    pub size: u32,
    /// Whether decoding can begin here.
    pub key: bool,
    /// Whether the container asks for this frame not to be shown.
    pub discard: bool,
    /// Whether the container lost part of it.
    pub corrupt: bool,
}

impl Packet {
    /// Presentation time, or decoding time where there is no other.
    pub fn shown_at(&self) -> Option<i64> {
        self.pts.or(self.dts)
    }
}

/// All packets of a clip's video stream, in decoding order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PacketTable {
    packets: Vec<Packet>,
    presented: Vec<i64>,
    /// Damaged stretches that the reader met.
    pub read_errors: u64,
}

impl PacketTable {
    fn new(packets: Vec<Packet>, read_errors: u64) -> Self {
        let mut presented: Vec<i64> = packets
            .iter()
            .filter(|packet| !packet.discard)
            .filter_map(Packet::shown_at)
            .collect();
        presented.sort_unstable();
        Self {
            packets,
            presented,
            read_errors,
        }
    }

    /// Packets in decoding order.
    pub fn packets(&self) -> &[Packet] {
        &self.packets
    }

    /// Ticks of all frames that are to be shown, in that order.
    pub fn presented(&self) -> &[i64] {
        &self.presented
    }

    /// Position of the frame shown at exactly `ticks`.
    pub fn position(&self, ticks: i64) -> Option<usize> {
        let at = self.presented.partition_point(|&t| t < ticks);
        (self.presented.get(at) == Some(&ticks)).then_some(at)
    }

    /// Whether the container keeps decoding times only, as AVI does: then frames
    /// are shown one after another at those times, whatever the decoder says.
    pub(super) fn keeps_decoding_times_only(&self) -> bool {
        let mut shown = self.packets.iter().filter(|packet| !packet.discard);
        shown.clone().any(|packet| packet.pts.is_none()) && shown.all(|packet| packet.dts.is_some())
    }

    /// The key packet from which the frame shown at `ticks` can be decoded.
    ///
    /// It is the last one in decoding order that is itself shown no later:
    /// pictures that follow it but are shown before it may lean on earlier
    /// ones, so they do not count.
    pub(super) fn key_before(&self, ticks: i64) -> Option<&Packet> {
        self.packets
            .iter()
            .rev()
            .find(|packet| packet.key && packet.shown_at().is_some_and(|shown| shown <= ticks))
    }
}

/// Reads the packet table of a clip without decoding it.
pub fn scan_packets(path: &std::path::Path) -> Result<PacketTable, ClipError> {
    let clip = Clip::open(path)?;
    clip.packets().cloned()
}

/// Reads every packet of the picture's stream.
pub(super) fn read_table(container: &mut Container) -> Result<PacketTable, ClipError> {
    let mut reader = PacketReader::new(container);
    let mut packets = Vec::new();
    while let Some(packet) = reader.next_packet() {
        if packets.len() >= MAX_PACKETS {
            return Err(ClipError::TooManyFrames(MAX_PACKETS));
        }
        packets.push(Packet {
            pts: packet.pts(),
            dts: packet.dts(),
            size: u32::try_from(packet.size()).unwrap_or(u32::MAX),
            key: packet.is_key(),
            discard: ffmpeg::is_discarded(&packet),
            corrupt: packet.is_corrupt(),
        });
    }
    match reader.starved {
        true => Err(ClipError::NoMemory),
        false => Ok(PacketTable::new(packets, reader.faults)),
    }
}

/// Reads one stream's packets, stepping over damaged stretches and counting
/// them: the library's own iterator hides them.
pub(super) struct PacketReader<'a> {
    input: &'a mut ff::format::context::Input,
    stream: usize,
    pub faults: u64,
    /// Whether it had to stop for want of memory.
    pub starved: bool,
}

impl<'a> PacketReader<'a> {
    pub fn new(container: &'a mut Container) -> Self {
        container.was_read = true;
        Self {
            stream: container.stream,
            input: &mut container.input,
            faults: 0,
            starved: false,
        }
    }

    /// The next packet of the stream, `None` at its end.
    pub fn next_packet(&mut self) -> Option<ff::Packet> {
        let mut in_a_row = 0;
        loop {
            // A fresh one each time: reading into a used packet leaks it.
            let mut packet = ff::Packet::empty();
            match packet.read(self.input) {
                Ok(()) if packet.stream() == self.stream => return Some(packet),
                Ok(()) => {}
                Err(ff::Error::Eof) => return None,
                Err(error) => {
                    self.faults += 1;
                    in_a_row += 1;
                    self.starved |= error == ffmpeg::NO_MEMORY;
                    if error != ff::Error::InvalidData || in_a_row > MAX_READ_FAULTS {
                        return None;
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn packet(pts: i64, dts: i64, key: bool) -> Packet {
        Packet {
            pts: Some(pts),
            dts: Some(dts),
            size: 1,
            key,
            discard: false,
            corrupt: false,
        }
    }

    #[test]
    fn frames_are_listed_in_the_order_of_showing() {
        let mut hidden = packet(-10, -10, true);
        hidden.discard = true;
        let table = PacketTable::new(
            vec![
                hidden,
                packet(0, -2, true),
                packet(3, -1, false),
                packet(1, 0, false),
                packet(2, 1, false),
            ],
            0,
        );
        assert_eq!(table.presented(), [0, 1, 2, 3]);
        assert_eq!((table.position(2), table.position(5)), (Some(2), None));
    }

    #[test]
    fn pictures_shown_before_their_key_frame_need_the_one_before() {
        // An open group: the key frame shown at 6 is followed in decoding order
        // by pictures shown at 4 and 5, which lean on the group before.
        let table = PacketTable::new(
            vec![
                packet(0, 0, true),
                packet(3, 1, false),
                packet(6, 2, true),
                packet(4, 3, false),
                packet(5, 4, false),
                packet(7, 5, false),
            ],
            0,
        );
        let key = |ticks| table.key_before(ticks).and_then(|packet| packet.pts);
        assert_eq!(key(5), Some(0));
        assert_eq!(key(6), Some(6));
        assert_eq!(key(-1), None);
    }
}
