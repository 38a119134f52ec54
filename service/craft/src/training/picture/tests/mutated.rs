//! Small pictures, changed anywhere, through the decoder: read or refused, each as large as its
//! header says. `ETUI_LAW_CASES` says how many changes are tried.

use super::super::Limits;
use super::super::decode::decode;
use super::drawn::written;
use crate::configuration::pattern::Chance;
use crate::laws;

/// The check value of a chunk of a PNG (ISO 3309).
fn check(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |check, byte| {
        (0..8).fold(check ^ u32::from(*byte), |check, _| {
            if check & 1 == 1 { check >> 1 ^ 0xedb8_8320 } else { check >> 1 }
        })
    })
}

/// Check values put right, so that a change comes farther than the first chunk.
fn put_right(bytes: &mut [u8]) {
    let mut at = 8;
    while let Some(length) = bytes.get(at..at + 4) {
        let length = u32::from_be_bytes(length.try_into().unwrap());
        let end = at + 8 + usize::try_from(length).unwrap();
        let Some(checked) = bytes.get(at + 4..end).map(check) else { return };
        let Some(value) = bytes.get_mut(end..end + 4) else { return };
        value.copy_from_slice(&checked.to_be_bytes());
        at = end + 4;
    }
}

#[test]
fn small_pictures_changed_anywhere_are_read_or_refused() {
    let mut chance = Chance::new(29);
    let bytes: Vec<u8> = (0..24 * 16 * 3).map(|_| chance.bits().to_le_bytes()[0]).collect();
    let mut jpeg = Vec::new();
    let encoder = jpeg_encoder::Encoder::new(&mut jpeg, 85);
    encoder.encode(&bytes[..24 * 16], 24, 16, jpeg_encoder::ColorType::Luma).unwrap();
    let mut colour = Vec::new();
    let encoder = jpeg_encoder::Encoder::new(&mut colour, 85);
    encoder.encode(&bytes, 24, 16, jpeg_encoder::ColorType::Rgb).unwrap();
    let good = [
        written(24, 16, png::ColorType::Grayscale, &bytes[..24 * 16]),
        written(24, 16, png::ColorType::Rgb, &bytes),
        jpeg,
        colour,
    ];
    // Room for a claim of a few megapixels: a larger one is refused as one of any size is.
    let limits = Limits { side: 2_000, pixels: 1_000_000, ..Limits::default() };
    let mut read = 0_u32;
    for case in 0..laws::cases(4_000) {
        let mut bytes = good[usize::try_from(case % 4).unwrap()].clone();
        for _ in 0..=chance.bits() % 4 {
            let at = usize::try_from(chance.bits() % (bytes.len() as u64)).unwrap();
            bytes[at] = chance.bits().to_le_bytes()[0];
        }
        if chance.unit() < 0.1 {
            bytes.truncate(usize::try_from(chance.bits() % (bytes.len() as u64)).unwrap());
        }
        if chance.unit() < 0.7 && case % 4 < 2 {
            put_right(&mut bytes);
        }
        if let Ok(page) = decode(&bytes, &limits) {
            read += 1;
            assert!(0 < page.width * page.height && page.width * page.height <= 1_000_000);
            let _ = page.light(page.width.cast_signed() - 1, page.height.cast_signed() - 1);
        }
    }
    assert!(0 < read, "nothing was read");
}
