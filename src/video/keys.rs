//! Looking at a clip for little: its key pictures, one from each group, without decoding
//! the rest; and a group without the pictures that others do not need.

use std::ops::ControlFlow;

use ffmpeg_next as ff;

use super::clip::Clip;
use super::container::Container;
use super::decode::{DecodedFrame, Delivery, open_decoder};
use super::fault::ClipError;
use super::packets::{Packet, PacketReader};

/// Decodes the key pictures alone and hands them out in order of time.
///
/// Gives how many were handed out; fewer than there are key packets means that
/// the container's index or the decoder left some out.
///
/// # Errors
/// When the file cannot be opened or decoded at all.
pub(in crate::video) fn key_pictures(
    clip: &Clip,
    threads: usize,
    mut receive: impl FnMut(&DecodedFrame),
) -> Result<usize, ClipError> {
    let table = clip.packets()?;
    let mut container = clip.anywhere()?;
    let mut decoder = open_decoder(clip, &container, threads)?;
    let mut delivery = Delivery::new(clip, table, None);
    let mut show = |frame: DecodedFrame| {
        receive(&frame);
        ControlFlow::Continue(())
    };
    for key in table.packets().iter().filter(|packet| packet.key) {
        let Some(packet) = packet_at(&mut container, key) else {
            continue;
        };
        if decoder.send_packet(&packet).is_ok() {
            delivery.collect(&mut decoder, &mut show)?;
        }
    }
    if decoder.send_eof().is_ok() {
        delivery.collect(&mut decoder, &mut show)?;
    }
    clip.give_back(container);
    Ok(delivery.summary.frames)
}

/// Decodes from the key picture at `from` on until `receive` has seen enough, leaving
/// out pictures on which no other leans. (Leaving out the smoothing of block edges as
/// well was tried: errors add up to three grey levels within a second.)
///
/// Gives how many frames were decoded.
///
/// # Errors
/// When the file cannot be opened or decoded at all.
pub(in crate::video) fn some_pictures(
    clip: &Clip,
    threads: usize,
    from: i64,
    mut receive: impl FnMut(&DecodedFrame) -> ControlFlow<()>,
) -> Result<usize, ClipError> {
    let table = clip.packets()?;
    let mut container = clip.anywhere()?;
    let mut decoder = open_decoder(clip, &container, threads)?;
    decoder.skip_frame(ff::Discard::NonReference);
    let mut delivery = Delivery::new(clip, table, Some((from, i64::MAX)));
    let key = table.key_before(from);
    let mut next = key.and_then(|key| packet_at(&mut container, key));
    let mut reader = PacketReader::new(&mut container);
    let mut show = |frame: DecodedFrame| receive(&frame);
    let mut going = true;
    while let Some(packet) = next.filter(|_| going) {
        going =
            decoder.send_packet(&packet).is_err() || delivery.collect(&mut decoder, &mut show)?;
        next = reader.next_packet();
    }
    if going && decoder.send_eof().is_ok() {
        delivery.collect(&mut decoder, &mut show)?;
    }
    if reader.faults == 0 {
        clip.give_back(container);
    }
    Ok(delivery.summary.frames)
}

/// Goes to a key packet and reads it; none where the index leads elsewhere.
fn packet_at(container: &mut Container, key: &Packet) -> Option<ff::Packet> {
    // Some containers seek by the time of showing, some by that of decoding.
    [key.dts, key.pts].into_iter().flatten().find_map(|target| {
        container.go_to(target).ok()?;
        let packet = PacketReader::new(container).next_packet()?;
        (packet.is_key() && packet.pts() == key.pts).then_some(packet)
    })
}
