//! Bytes that are no picture, claim too much, or were changed anywhere.

use super::drawn::{Drawing, SCAN, Shot, png, written};
use super::{CARD_MM, sheet};
use crate::configuration::pattern::Chance;
use crate::laws;
use crate::training::picture::{Layout, Limits, PictureError, ReadError, read};

fn refusal(bytes: &[u8]) -> PictureError {
    let layout = Layout { card_mm: CARD_MM, panels: Vec::new() };
    match read(bytes, &layout, &Limits::default()) {
        Err(ReadError::Picture(error)) => error,
        other => panic!("{other:?}"),
    }
}

/// A small good PNG, with its header rewritten.
fn with_header(change: impl Fn(&mut [u8])) -> Vec<u8> {
    let mut bytes = written(8, 8, png::ColorType::Grayscale, &[9; 64]);
    change(&mut bytes[16..29]);
    bytes
}

#[test]
fn what_is_not_read_says_what_would_be() {
    let good = written(8, 8, png::ColorType::Grayscale, &[9; 64]);
    let form = |bytes: &[u8]| refusal(bytes).to_string();
    for (case, bytes, says) in [
        ("nothing", Vec::new(), "neither a PNG nor a JPEG"),
        ("another kind", b"GIF89a................".to_vec(), "neither a PNG nor a JPEG"),
        ("a signature alone", good[..8].to_vec(), "broken"),
        ("cut short", good[..good.len() - 20].to_vec(), "broken"),
        (
            "a bomb",
            with_header(|head| head[..8].copy_from_slice(&[0, 0, 0xea, 0x60, 0, 0, 0xea, 0x60])),
            "at most 8000 a side",
        ),
        ("2^32", with_header(|head| head[..8].fill(0xff)), "at most 8000 a side"),
        ("no size", with_header(|head| head[..8].fill(0)), "broken"),
        ("16 bits", with_header(|head| head[8] = 16), "8 bits"),
        ("a palette", with_header(|head| head[9] = 3), "palette"),
        ("transparency", with_header(|head| head[9] = 6), "transparency"),
        ("interlaced", with_header(|head| head[12] = 1), "interlaced"),
        ("no way of interlacing", with_header(|head| head[12] = 2), "broken"),
        ("no colour type", with_header(|head| head[9] = 5), "no PNG has"),
        ("another one", with_header(|head| head[9] = 1), "no PNG has"),
        ("and another", with_header(|head| head[9] = 200), "no PNG has"),
        ("a JPEG that ends", vec![0xff, 0xd8, 0xff], "broken"),
        (
            "progressive",
            vec![0xff, 0xd8, 0xff, 0xc2, 0, 11, 8, 0, 8, 0, 8, 1, 1, 0x11, 0],
            "progressive",
        ),
        (
            "a large JPEG",
            vec![0xff, 0xd8, 0xff, 0xc0, 0, 11, 8, 0xff, 0xff, 0xff, 0xff, 1, 1, 0x11, 0],
            "at most 8000",
        ),
        ("many segments", [vec![0xff, 0xd8], [0xff, 0xe1, 0, 2].repeat(200)].concat(), "segments"),
    ] {
        assert!(form(&bytes).contains(says), "{case}: {}", form(&bytes));
    }
    let mut animated = good[..33].to_vec();
    animated.extend([0, 0, 0, 8, b'a', b'c', b'T', b'L', 0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0]);
    animated.extend(&good[33..]);
    assert!(form(&animated).contains("animated"));
    let mut chunks = good[..33].to_vec();
    for _ in 0..40 {
        chunks.extend([0, 0, 0, 0, b't', b'E', b'X', b't', 0, 0, 0, 0]);
    }
    chunks.extend(&good[33..]);
    assert!(form(&chunks).contains("chunks"));
}

/// A good picture, changed anywhere, is read or refused.
#[test]
fn no_bytes_make_it_panic() {
    let mut truth = sheet(90);
    let (width, height, grey) = truth.drawing.shoot(&Shot { dpi: 150.0, ..SCAN });
    let mut jpeg = Vec::new();
    let (w, h) = (u16::try_from(width).unwrap(), u16::try_from(height).unwrap());
    let encoder = jpeg_encoder::Encoder::new(&mut jpeg, 85);
    encoder.encode(&grey, w, h, jpeg_encoder::ColorType::Luma).unwrap();
    let png = png(&(width, height, grey));
    let limits = Limits::default();
    for seed in 0..u64::from(laws::cases(24)) {
        let mut chance = Chance::new(seed);
        for good in [&png, &jpeg] {
            let mut bytes = good.clone();
            // Headers are where most is claimed, so half of the changes fall there.
            let most = if chance.unit() < 0.5 { 80 } else { bytes.len() };
            for _ in 0..=chance.bits() % 4 {
                let at = usize::try_from(chance.bits()).unwrap_or(0) % most;
                bytes[at] = chance.bits().to_le_bytes()[0];
            }
            if chance.unit() < 0.3 {
                bytes.truncate(usize::try_from(chance.bits()).unwrap_or(0) % bytes.len());
            }
            let _ = read(&bytes, &truth.layout, &limits);
        }
    }
}

/// Pictures of anything: noise, stripes, one grey, few pixels.
#[test]
fn no_picture_makes_it_panic() {
    let layout = sheet(91).layout;
    let of = |width: u32, height: u32, value: &dyn Fn(u32, u32) -> u8| {
        let bytes: Vec<u8> = (0..height)
            .flat_map(|y| (0..width).map(move |x| (x, y)))
            .map(|(x, y)| value(x, y))
            .collect();
        written(width, height, png::ColorType::Grayscale, &bytes)
    };
    let noise =
        |x: u32, y: u32| Chance::new(u64::from(x) << 20 | u64::from(y)).bits().to_le_bytes()[0];
    for bytes in [
        of(1, 1, &|_, _| 0),
        of(4_000, 1, &|_, _| 200),
        of(300, 300, &|_, _| 255),
        of(300, 300, &|_, _| 0),
        of(400, 300, &noise),
        of(400, 300, &|x, y| if (x / 3 + y / 3) % 2 == 0 { 255 } else { 0 }),
    ] {
        assert!(read(&bytes, &layout, &Limits::default()).is_err());
    }
}

/// A sheet with a layout that fits it nowhere, and with nothing on it.
#[test]
fn no_layout_makes_it_panic() {
    let mut truth = sheet(92);
    let bytes = png(&truth.drawing.shoot(&Shot { dpi: 150.0, ..SCAN }));
    let blank = png(&Drawing::new(CARD_MM, 1).shoot(&Shot { dpi: 150.0, ..SCAN }));
    for [left, top, right, low] in [
        [10.0, 10.0, 10.0, 10.0],
        [47.9, 41.9, 48.0, 42.0],
        [0.0, 0.0, 58.0, 52.0],
        [40.0, 30.0, 12.0, 12.0],
        [-5.0, -5.0, -1.0, -1.0],
        [200.0, 200.0, 210.0, 210.0],
    ] {
        let mut layout = truth.layout.clone();
        for panel in &mut layout.panels {
            panel.box_mm = [left, top, right, low];
        }
        let _ = read(&bytes, &layout, &Limits::default());
        let _ = read(&blank, &layout, &Limits::default());
    }
}
