//! Bytes to one byte a pixel, refused at the header where they claim too much.
//!
//! Of PNG grey and RGB of 8 bits are read, of JPEG what has one sequential scan set of
//! 8 bits. Nothing is read of text, profiles or other metadata.

use std::io::Cursor;

use png::{BitDepth, ColorType, Transformations};
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

/// How large a picture may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Limits {
    /// Width and height, each.
    pub(crate) side: u32,
    /// Pixels.
    pub(crate) pixels: u64,
    /// Chunks or segments before the picture itself.
    pub(crate) chunks: usize,
    /// Room of the decoder for what is not the picture, in bytes.
    pub(crate) room: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self { side: 8_000, pixels: 40_000_000, chunks: 12, room: 1 << 20 }
    }
}

/// Why bytes are no picture that is read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PictureError {
    /// Neither of both kinds.
    #[error("this is neither a PNG nor a JPEG; a scan in grey or RGB with 8 bits is read")]
    Unknown,
    /// Larger than what is read.
    #[error(
        "{width} × {height} pixels; at most {side} a side and {pixels} in all are read: scan the card alone, at 600 dots an inch"
    )]
    TooLarge {
        /// Its width.
        width: u64,
        /// Its height.
        height: u64,
        /// The longest side that is read.
        side: u32,
        /// The most pixels that are read.
        pixels: u64,
    },
    /// A form that is not read.
    #[error("{found} is not read; {accepted}")]
    Form {
        /// What it has.
        found: &'static str,
        /// What would be read.
        accepted: &'static str,
    },
    /// It ends early or contradicts itself.
    #[error("the picture is broken: it ends early or contradicts itself; save it anew")]
    Broken,
}

/// A picture, one byte a pixel.
#[derive(Debug, Clone)]
pub(super) struct Page {
    pub(super) width: usize,
    pub(super) height: usize,
    grey: Vec<u8>,
    light: [f32; 256],
    /// Of a JPEG, how much its tables kept, 1 to 100: what is fine is left out first.
    pub(super) jpeg: Option<u8>,
}

impl Page {
    fn new(width: usize, height: usize, grey: Vec<u8>) -> Result<Self, PictureError> {
        if width == 0 || height == 0 || grey.len() != width * height {
            return Err(PictureError::Broken);
        }
        let mut light = [0.0; 256];
        for (value, light) in (0_u8..=255).zip(&mut light) {
            *light = (f32::from(value) / 255.0).powf(2.2);
        }
        Ok(Self { width, height, grey, light, jpeg: None })
    }

    /// The byte of a pixel; beyond the edge that of the edge.
    pub(super) fn byte(&self, x: isize, y: isize) -> u8 {
        let x = x.clamp(0, self.width.cast_signed() - 1).cast_unsigned();
        let y = y.clamp(0, self.height.cast_signed() - 1).cast_unsigned();
        self.grey.get(y * self.width + x).copied().unwrap_or(0)
    }

    /// The light of four pixels in a row, if all of them are inside.
    pub(super) fn four(&self, left: isize, y: isize) -> Option<[f32; 4]> {
        let (left, y) = (usize::try_from(left).ok()?, usize::try_from(y).ok()?);
        if self.width < left + 4 || self.height <= y {
            return None;
        }
        let from = y * self.width + left;
        let four: &[u8; 4] = self.grey.get(from..from + 4)?.try_into().ok()?;
        Some(four.map(|byte| self.light[usize::from(byte)]))
    }

    /// Its light, 0 to 1.
    pub(super) fn light(&self, x: isize, y: isize) -> f32 {
        self.light[usize::from(self.byte(x, y))]
    }
}

const PNG_FORM: &str = "save it as PNG in grey or RGB with 8 bits, not interlaced, not animated";
const JPEG_FORM: &str =
    "save it as an ordinary JPEG with 8 bits, in grey or colour, not progressive";

/// Decodes.
pub(super) fn decode(bytes: &[u8], limits: &Limits) -> Result<Page, PictureError> {
    if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
        png(bytes, limits)
    } else if bytes.starts_with(&[0xff, 0xd8, 0xff]) {
        jpeg(bytes, limits)
    } else {
        Err(PictureError::Unknown)
    }
}

fn fits(width: u64, height: u64, limits: &Limits) -> Result<(), PictureError> {
    let Limits { side, pixels, .. } = *limits;
    if width == 0 || height == 0 {
        return Err(PictureError::Broken);
    }
    if u64::from(side) < width.max(height) || pixels < width.saturating_mul(height) {
        return Err(PictureError::TooLarge { width, height, side, pixels });
    }
    Ok(())
}

fn be32(bytes: &[u8], at: usize) -> Option<u32> {
    let four = bytes.get(at..at.checked_add(4)?)?;
    Some(u32::from_be_bytes(four.try_into().ok()?))
}

/// What the header of a PNG claims, before the decoder sees a byte: size, form, and
/// how many chunks stand before the data.
fn png_header(bytes: &[u8], limits: &Limits) -> Result<(), PictureError> {
    let form = |found| Err(PictureError::Form { found, accepted: PNG_FORM });
    let (Some(13), Some(b"IHDR")) = (be32(bytes, 8), bytes.get(12..16)) else {
        return Err(PictureError::Broken);
    };
    let size = be32(bytes, 16).zip(be32(bytes, 20)).ok_or(PictureError::Broken)?;
    fits(size.0.into(), size.1.into(), limits)?;
    let Some([depth, colour, _, _, interlace]) = bytes.get(24..29) else {
        return Err(PictureError::Broken);
    };
    match (depth, colour, interlace) {
        (8, 0 | 2, 0) => {}
        (_, 3, _) => return form("a palette"),
        (_, 4 | 6, _) => return form("transparency"),
        (_, 1 | 5 | 7.., _) => return form("a colour type that no PNG has"),
        (8, _, 1) => return form("an interlaced picture"),
        (8, _, _) => return Err(PictureError::Broken),
        _ => return form("another depth than 8 bits"),
    }
    let mut at = 8_usize;
    for _ in 0..=limits.chunks {
        let (length, kind) = (be32(bytes, at), bytes.get(at + 4..at + 8));
        let length = length.ok_or(PictureError::Broken)?;
        match kind {
            Some(b"IDAT") => return Ok(()),
            Some(b"acTL") => return form("an animated picture"),
            Some(_) => {}
            None => return Err(PictureError::Broken),
        }
        let length = usize::try_from(length).map_err(|_| PictureError::Broken)?;
        at =
            at.checked_add(length).and_then(|at| at.checked_add(12)).ok_or(PictureError::Broken)?;
    }
    form("a picture with so many chunks before its data")
}

fn png(bytes: &[u8], limits: &Limits) -> Result<Page, PictureError> {
    png_header(bytes, limits)?;
    let broken = |_| PictureError::Broken;
    let mut decoder =
        png::Decoder::new_with_limits(Cursor::new(bytes), png::Limits { bytes: limits.room });
    decoder.set_transformations(Transformations::IDENTITY);
    decoder.set_ignore_text_chunk(true);
    decoder.set_ignore_iccp_chunk(true);
    let mut reader = decoder.read_info().map_err(broken)?;
    let (width, height) = reader.info().size();
    fits(width.into(), height.into(), limits)?;
    let is_grey = match reader.output_color_type() {
        (ColorType::Grayscale, BitDepth::Eight) => true,
        (ColorType::Rgb, BitDepth::Eight) => false,
        _ => return Err(PictureError::Broken),
    };
    let (width, height) = (side(width)?, side(height)?);
    let mut grey = Vec::with_capacity(width * height);
    while let Some(row) = reader.next_row().map_err(broken)? {
        if width * height < grey.len() + width {
            return Err(PictureError::Broken);
        }
        let row = row.data();
        if is_grey {
            grey.extend_from_slice(row.get(..width).ok_or(PictureError::Broken)?);
        } else {
            grey.extend(row.chunks_exact(3).take(width).map(luma));
        }
    }
    Page::new(width, height, grey)
}

/// Grey of a colour, with the weights of ITU-R BT.601, whole.
fn luma(rgb: &[u8]) -> u8 {
    let of = |at: usize| u32::from(rgb.get(at).copied().unwrap_or(0));
    let sum = 299 * of(0) + 587 * of(1) + 114 * of(2) + 500;
    u8::try_from(sum / 1000).unwrap_or(u8::MAX)
}

fn side(value: u32) -> Result<usize, PictureError> {
    usize::try_from(value).map_err(|_| PictureError::Broken)
}

/// The sum of the table for brightness in Annex K of ITU-T T.81, which quality 50 uses.
const TABLE_50: u32 = 3_688;

/// The quality, 1 to 100, whose table for brightness is as coarse as this one (its segment,
/// length and all): the usual scale, by which tables are those of Annex K made coarser or
/// finer. `None` for a segment without that table.
fn quality(segment: &[u8]) -> Option<u8> {
    let mut at = 2_usize;
    while let Some(kind) = segment.get(at).copied() {
        let size = if kind >> 4 == 0 { 1 } else { 2 };
        let table = segment.get(at + 1..at + 1 + 64 * size)?;
        if kind & 0x0f == 0 {
            let steps = table
                .chunks(size)
                .map(|step| step.iter().fold(0, |all, byte| all << 8 | u32::from(*byte)));
            let percent = f64::from(100 * steps.sum::<u32>()) / f64::from(TABLE_50);
            let quality =
                if percent <= 100.0 { (200.0 - percent) / 2.0 } else { 5_000.0 / percent };
            return u8::try_from(super::plane::pixels(quality.clamp(1.0, 100.0))).ok();
        }
        at += 1 + 64 * size;
    }
    None
}

/// What the segments of a JPEG claim before its scan: size and form. What its tables kept.
fn jpeg_header(bytes: &[u8], limits: &Limits) -> Result<u8, PictureError> {
    let form = |found| Err(PictureError::Form { found, accepted: JPEG_FORM });
    let mut at = 2_usize;
    let mut sized = false;
    // Tables that are not there keep nothing.
    let mut kept = 1;
    // Cameras write more segments than scanners chunks.
    for _ in 0..4 * limits.chunks {
        let (Some(0xff), Some(marker)) = (bytes.get(at), bytes.get(at + 1)) else {
            return Err(PictureError::Broken);
        };
        let length = bytes.get(at + 2..at + 4).and_then(|two| two.try_into().ok());
        let length = usize::from(length.map(u16::from_be_bytes).ok_or(PictureError::Broken)?);
        match marker {
            0xda if sized => return Ok(kept),
            0xdb => {
                let segment = at.checked_add(2 + length).and_then(|end| bytes.get(at + 2..end));
                kept = quality(segment.ok_or(PictureError::Broken)?).unwrap_or(kept);
            }
            0xc0 | 0xc1 => {
                let Some([depth, h1, h0, w1, w0, parts]) = bytes.get(at + 4..at + 10) else {
                    return Err(PictureError::Broken);
                };
                let of = |high: u8, low: u8| u64::from(u16::from_be_bytes([high, low]));
                fits(of(*w1, *w0), of(*h1, *h0), limits)?;
                if *depth != 8 {
                    return form("another depth than 8 bits");
                }
                if !matches!(parts, 1 | 3) {
                    return form("a picture of four colours");
                }
                if sized {
                    return Err(PictureError::Broken);
                }
                sized = true;
            }
            0xc2 => return form("a progressive picture"),
            0xc3 | 0xc5..=0xc7 | 0xc9..=0xcb | 0xcd..=0xcf => return form("this coding"),
            0xda | 0xd8 | 0xd9 | 0x00 | 0x01 | 0xd0..=0xd7 => return Err(PictureError::Broken),
            _ => {}
        }
        if length < 2 {
            return Err(PictureError::Broken);
        }
        at = at.checked_add(2 + length).ok_or(PictureError::Broken)?;
    }
    form("a picture with so many segments before its data")
}

fn jpeg(bytes: &[u8], limits: &Limits) -> Result<Page, PictureError> {
    let kept = jpeg_header(bytes, limits)?;
    let most = usize::try_from(limits.side).unwrap_or(usize::MAX);
    let options = DecoderOptions::new_safe()
        .set_max_width(most)
        .set_max_height(most)
        .set_strict_mode(true)
        .jpeg_set_out_colorspace(ColorSpace::Luma);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes), options);
    decoder.decode_headers().map_err(|_| PictureError::Broken)?;
    let (width, height) = decoder.dimensions().ok_or(PictureError::Broken)?;
    let wide = |side: usize| u64::try_from(side).unwrap_or(u64::MAX);
    fits(wide(width), wide(height), limits)?;
    let grey = decoder.decode().map_err(|_| PictureError::Broken)?;
    Ok(Page { jpeg: Some(kept), ..Page::new(width, height, grey)? })
}
