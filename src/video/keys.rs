//! The key pictures of a clip, one from each group, without decoding the rest.

use std::ops::ControlFlow;

use ffmpeg_next as ff;

use super::clip::{Clip, open_container};
use super::decode::{DecodedFrame, Delivery, open_decoder};
use super::fault::ClipError;
use super::ffmpeg;
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
    let (mut input, stream) = open_container(clip.path())?;
    let mut decoder = open_decoder(clip, &input, stream, threads)?;
    let mut delivery = Delivery::new(clip, table, None);
    let mut show = |frame: &DecodedFrame| {
        receive(frame);
        ControlFlow::Continue(())
    };
    for key in table.packets().iter().filter(|packet| packet.key) {
        let Some(packet) = packet_at(&mut input, stream, key) else {
            continue;
        };
        if decoder.send_packet(&packet).is_ok() {
            delivery.collect(&mut decoder, &mut show)?;
        }
    }
    if decoder.send_eof().is_ok() {
        delivery.collect(&mut decoder, &mut show)?;
    }
    Ok(delivery.summary.frames)
}

/// Goes to a key packet and reads it; none where the index leads elsewhere.
fn packet_at(
    input: &mut ff::format::context::Input,
    stream: usize,
    key: &Packet,
) -> Option<ff::Packet> {
    // Some containers seek by the time of showing, some by that of decoding.
    [key.dts, key.pts].into_iter().flatten().find_map(|target| {
        ffmpeg::seek(input, stream, target).ok()?;
        let packet = PacketReader::new(input, stream).next_packet()?;
        (packet.is_key() && packet.pts() == key.pts).then_some(packet)
    })
}
