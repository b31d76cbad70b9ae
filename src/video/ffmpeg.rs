//! The one place that touches FFmpeg's own structures.
//!
//! Everything outside this file is safe code. What comes from a file (sizes,
//! strides, text, colour codes) is checked here before it leaves.

use std::ffi::CStr;
use std::fs::File;
use std::os::raw::c_int;
use std::ptr;
use std::sync::Once;

use ffmpeg_next as ff;
use ffmpeg_next::ffi;

/// Containers that are read. Play lists and the like, which would make the
/// library open further files or addresses, are left out on purpose.
const CONTAINERS: &str = "mov,mp4,matroska,webm,avi,mpegts,mpeg,flv,asf,ogg,mxf";

/// How many tags are looked at, and how long each may be.
const MAX_TAGS: usize = 256;
const MAX_TAG_BYTES: usize = 1024;

/// The library's answer where memory is refused to it.
pub(super) const NO_MEMORY: ff::Error = ff::Error::Other {
    errno: ff::error::ENOMEM,
};

/// Longest block of memory that the library may ask for, in bytes. The largest that a
/// clip within our limits needs is one plane of 108 million samples of two bytes; a list
/// of keys that claims 250 million entries would take two gigabytes.
const LONGEST_BLOCK: usize = 512 << 20;

static LOG_LEVEL: Once = Once::new();
static BLOCKS: Once = Once::new();

/// Lets the decoder write its own messages to standard error, or not.
///
/// Only the first call counts; without one the decoder is silent.
pub fn decoder_messages(shown: bool) {
    LOG_LEVEL.call_once(|| {
        ff::log::set_level(if shown {
            ff::log::Level::Warning
        } else {
            ff::log::Level::Quiet
        });
    });
}

/// Opens a container from a file that is already open.
///
/// The library never sees the path, so a name in any encoding, or one that
/// looks like an address, means nothing more than the file it names.
pub(super) fn open(file: File) -> Result<ff::format::context::Input, ff::Error> {
    decoder_messages(false);
    // SAFETY: sets one number of the library, once and before anything is opened.
    BLOCKS.call_once(|| unsafe { ffi::av_max_alloc(LONGEST_BLOCK) });
    let stream = ff::format::context::StreamIo::from_read_seek_with_capacity(file, 1 << 18)?;
    let mut options = ff::Dictionary::new();
    options.set("format_whitelist", CONTAINERS);
    ff::format::input_from_stream(stream, None, Some(options))
}

/// The tags of a container (`stream` is `None`) or of one of its streams.
///
/// Text that is not UTF-8 is kept with replacement characters.
pub(super) fn tags(
    input: &ff::format::context::Input,
    stream: Option<usize>,
) -> Vec<(String, String)> {
    // SAFETY: the pointers belong to `input`, which outlives this call; an
    // index outside the streams is refused before it is used.
    let dictionary = unsafe {
        match stream {
            None => (*input.as_ptr()).metadata,
            Some(index) => match input.stream(index) {
                Some(stream) => (*stream.as_ptr()).metadata,
                None => return Vec::new(),
            },
        }
    };
    let mut tags = Vec::new();
    let mut entry: *const ffi::AVDictionaryEntry = ptr::null();
    while tags.len() < MAX_TAGS {
        // SAFETY: `entry` is null or came from the same dictionary, which is
        // not changed meanwhile; the key is a terminated literal.
        entry = unsafe {
            ffi::av_dict_get(dictionary, c"".as_ptr(), entry, ffi::AV_DICT_IGNORE_SUFFIX)
        };
        if entry.is_null() {
            break;
        }
        // SAFETY: a dictionary's keys and values are terminated strings.
        let (key, value) = unsafe { (lossy((*entry).key), lossy((*entry).value)) };
        tags.push((key, value));
    }
    tags
}

/// A terminated string of unknown encoding, cut to a sane length.
///
/// # Safety
/// `text` is null or points to a terminated string.
unsafe fn lossy(text: *const std::os::raw::c_char) -> String {
    if text.is_null() {
        return String::new();
    }
    // SAFETY: not null, and terminated by the caller's promise.
    let bytes = unsafe { CStr::from_ptr(text) }.to_bytes();
    String::from_utf8_lossy(&bytes[..bytes.len().min(MAX_TAG_BYTES)]).into_owned()
}

/// What the stream's header says of the picture, as plain numbers.
#[derive(Clone, Copy, Debug)]
pub(super) struct CodedPicture {
    /// Stored width in pixels, as claimed.
    pub width: i32,
    /// Stored height in pixels, as claimed.
    pub height: i32,
    /// Number of the pixel format, negative while unknown.
    pub pixel_format: i32,
    /// Colour range code (ISO/IEC 23091-2): 2 is full range.
    pub range: i32,
    /// Transfer characteristic code (ISO/IEC 23091-2).
    pub transfer: i32,
    /// Whether each picture holds two fields of different moments.
    pub interlaced: bool,
}

/// Reads what the header of a video stream says of its picture.
pub(super) fn coded_picture(stream: &ff::format::stream::Stream) -> CodedPicture {
    // SAFETY: the parameters belong to the stream. The colour codes come from
    // the file, so they are read as integers and never as Rust enumerations.
    unsafe {
        let parameters = (*stream.as_ptr()).codecpar;
        CodedPicture {
            width: (*parameters).width,
            height: (*parameters).height,
            pixel_format: (*parameters).format,
            range: (&raw const (*parameters).color_range).cast::<i32>().read(),
            transfer: (&raw const (*parameters).color_trc).cast::<i32>().read(),
            // 0 is unknown, 1 progressive, 2 to 5 the orders of two fields.
            interlaced: (&raw const (*parameters).field_order).cast::<i32>().read() > 1,
        }
    }
}

/// The shape of one pixel of the stream's picture (width, height), if stated.
pub(super) fn pixel_aspect(stream: &ff::format::stream::Stream) -> Option<(u32, u32)> {
    // SAFETY: plain numbers of a stream that is alive.
    let aspect = unsafe { (*(*stream.as_ptr()).codecpar).sample_aspect_ratio };
    match (u32::try_from(aspect.num), u32::try_from(aspect.den)) {
        (Ok(w), Ok(h)) if w > 0 && h > 0 => Some((w, h)),
        _ => None,
    }
}

/// Number of samples in the stream's index; 0 without one.
pub(super) fn index_entries(stream: &ff::format::stream::Stream) -> u64 {
    // SAFETY: the stream is alive.
    let count = unsafe { ffi::avformat_index_get_entries_count(stream.as_ptr()) };
    u64::try_from(count).unwrap_or(0)
}

/// The name of a codec, such as "h264".
pub(super) fn codec_name(id: ff::codec::Id) -> String {
    // SAFETY: returns a static string for every identifier.
    unsafe { lossy(ffi::avcodec_get_name(id.into())) }
}

/// The stream's display matrix, row by row, if it has one.
pub(super) fn display_matrix(stream: &ff::format::stream::Stream) -> Option<[i32; 9]> {
    let side = stream
        .side_data()
        .find(|side| side.kind() == ff::packet::side_data::Type::DisplayMatrix)?;
    let mut matrix = [0; 9];
    let bytes = side.data();
    for (value, bytes) in matrix.iter_mut().zip(bytes.chunks_exact(4)) {
        *value = i32::from_ne_bytes(bytes.try_into().ok()?);
    }
    (bytes.len() >= 36).then_some(matrix)
}

/// Leaves the packets of every stream but one unread.
pub(super) fn read_only_stream(input: &mut ff::format::context::Input, wanted: usize) {
    for index in 0..input.nb_streams() as usize {
        if index == wanted {
            continue;
        }
        if let Some(mut stream) = input.stream_mut(index) {
            // SAFETY: the field may be set by the caller at any time.
            unsafe { (*stream.as_mut_ptr()).discard = ffi::AVDiscard::AVDISCARD_ALL };
        }
    }
}

/// Jumps to the last key packet whose decoding time is not after `ticks`.
pub(super) fn seek(
    input: &mut ff::format::context::Input,
    stream: usize,
    ticks: i64,
) -> Result<(), ff::Error> {
    // SAFETY: the context is alive, the stream index is checked by the call.
    let answer = unsafe {
        ffi::avformat_seek_file(
            input.as_mut_ptr(),
            stream as c_int,
            i64::MIN,
            ticks,
            ticks,
            0,
        )
    };
    if answer < 0 {
        return Err(ff::Error::from(answer));
    }
    Ok(())
}

/// Whether the container asks for this packet's picture not to be shown.
pub(super) fn is_discarded(packet: &ff::Packet) -> bool {
    use ff::packet::Ref;
    // SAFETY: a plain number of a packet that is alive.
    unsafe { (*packet.as_ptr()).flags & ffi::AV_PKT_FLAG_DISCARD != 0 }
}

/// Whether the decoder marks the frame as damaged.
pub(super) fn is_damaged(frame: &ff::frame::Video) -> bool {
    frame.is_corrupt() || frame.has_decode_errors()
}

/// Colour codes of one frame (ISO/IEC 23091-2): matrix, range, transfer.
pub(super) fn colour_codes(frame: &ff::frame::Video) -> (i32, i32, i32) {
    // SAFETY: integers of a frame that is alive, not read as enumerations.
    unsafe {
        let frame = frame.as_ptr();
        (
            (&raw const (*frame).colorspace).cast::<i32>().read(),
            (&raw const (*frame).color_range).cast::<i32>().read(),
            (&raw const (*frame).color_trc).cast::<i32>().read(),
        )
    }
}

/// The number of the frame's pixel format.
pub(super) fn pixel_format(frame: &ff::frame::Video) -> i32 {
    // SAFETY: a plain number of a frame that is alive.
    unsafe { (*frame.as_ptr()).format }
}

/// One plane of a frame: rows of bytes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Plane<'a> {
    /// All rows, the first row first.
    pub bytes: &'a [u8],
    /// Bytes from one row to the next.
    pub stride: usize,
}

/// Plane `index` with its first `rows` rows of at least `row_bytes` bytes.
///
/// `None` where the frame has no such plane, stores it upside down, or its
/// buffer is smaller than that.
pub(super) fn plane(
    frame: &ff::frame::Video,
    index: usize,
    rows: usize,
    row_bytes: usize,
) -> Option<Plane<'_>> {
    if index >= 4 || rows == 0 {
        return None;
    }
    // SAFETY: the data pointer and the line size are the decoder's own and
    // describe memory that lives as long as the frame is not written to, which
    // the borrow prevents. The length is checked against the buffer that
    // holds the pointer before a slice is made.
    unsafe {
        let raw = frame.as_ptr();
        let data = (*raw).data[index];
        let stride = usize::try_from((*raw).linesize[index]).ok()?;
        if data.is_null() || stride < row_bytes {
            return None;
        }
        let length = stride.checked_mul(rows - 1)?.checked_add(row_bytes)?;
        let held = (*raw).buf.iter().any(|&buffer| {
            if buffer.is_null() {
                return false;
            }
            let start = (*buffer).data as usize;
            let end = start.saturating_add((*buffer).size);
            let first = data as usize;
            first >= start && first.checked_add(length).is_some_and(|last| last <= end)
        });
        held.then(|| Plane {
            bytes: std::slice::from_raw_parts(data, length),
            stride,
        })
    }
}

/// Where one component of a pixel lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Component {
    pub plane: usize,
    pub step: usize,
    pub offset: usize,
    pub shift: u32,
    pub depth: u32,
}

/// How a pixel format lays out its components.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Layout {
    /// FFmpeg's name of the format.
    pub name: String,
    /// Luma, then the two chroma components if there are any.
    pub components: Vec<Component>,
    /// Halvings of the chroma planes, across and down.
    pub chroma_halvings: (u32, u32),
    pub big_endian: bool,
    /// Whether plane 0 holds luma samples only, one after another.
    pub plain_luma: bool,
}

/// Describes a pixel format by its number; `None` for an unknown one.
pub(super) fn layout(pixel_format: i32) -> Option<Layout> {
    if pixel_format < 0 {
        return None;
    }
    const ODD: u64 = (ffi::AV_PIX_FMT_FLAG_PAL
        | ffi::AV_PIX_FMT_FLAG_BITSTREAM
        | ffi::AV_PIX_FMT_FLAG_HWACCEL
        | ffi::AV_PIX_FMT_FLAG_RGB
        | ffi::AV_PIX_FMT_FLAG_BAYER
        | ffi::AV_PIX_FMT_FLAG_FLOAT) as u64;
    // SAFETY: the number was written by the same library; the description is
    // static, and null for a number out of range.
    unsafe {
        let describe: unsafe extern "C" fn(c_int) -> *const ffi::AVPixFmtDescriptor =
            std::mem::transmute(ffi::av_pix_fmt_desc_get as *const ());
        let description = describe(pixel_format).as_ref()?;
        // One component is grey, two are grey and alpha: no chroma in either.
        let colours = if description.nb_components >= 3 { 3 } else { 1 };
        let components: Vec<Component> = description
            .comp
            .iter()
            .take(colours)
            .map(|component| Component {
                plane: usize::try_from(component.plane).unwrap_or(usize::MAX),
                step: usize::try_from(component.step).unwrap_or(0),
                offset: usize::try_from(component.offset).unwrap_or(0),
                shift: u32::try_from(component.shift).unwrap_or(0),
                depth: u32::try_from(component.depth).unwrap_or(0),
            })
            .collect();
        let luma = components.first()?;
        let sample_bytes = if luma.depth <= 8 { 1 } else { 2 };
        let plain_luma = description.flags & ODD == 0
            && luma.plane == 0
            && luma.offset == 0
            && luma.step == sample_bytes
            && (8..=16).contains(&luma.depth)
            && luma.shift + luma.depth <= 16;
        Some(Layout {
            name: lossy(description.name),
            components,
            chroma_halvings: (
                u32::from(description.log2_chroma_w),
                u32::from(description.log2_chroma_h),
            ),
            big_endian: description.flags & ffi::AV_PIX_FMT_FLAG_BE as u64 != 0,
            plain_luma,
        })
    }
}
