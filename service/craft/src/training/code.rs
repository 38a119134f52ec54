//! The code of a numbered sheet on its frame: which sheet lies in a picture.
//!
//! A number in print is for people. Beside it stand 24 bits in a row at the lower edge,
//! each as two halves of which one is black: the left for a one, the right for a nought.
//! So no threshold decides, and a bit that is covered or smeared is none.

/// The bits of a code.
const BITS: u8 = 24;
/// How wide one half of a bit is, and how high, in mm.
pub(super) const HALF_MM: (f64, f64) = (1.1, 2.0);
/// From the middle of the card, and from its lower edge, in mm.
const BESIDE_MM: f64 = 5.5;
const ABOVE_MM: f64 = 5.0;

/// The middles of both halves of each bit, the lowest bit first.
pub(super) fn halves_mm(
    (width, height): (f64, f64),
) -> impl Iterator<Item = (u8, [(f64, f64); 2])> {
    let at = move |half: u8| {
        let from = 0.5 * width + BESIDE_MM;
        (from + HALF_MM.0 * (f64::from(half) + 0.5), height - ABOVE_MM)
    };
    (0..BITS).map(move |bit| (bit, [at(2 * bit), at(2 * bit + 1)]))
}

/// Where a code is black.
pub(super) fn black_mm(code: u32, size_mm: (f64, f64)) -> impl Iterator<Item = (f64, f64)> {
    halves_mm(size_mm).map(
        move |(bit, [left, right])| {
            if code >> bit & 1 == 1 { left } else { right }
        },
    )
}
