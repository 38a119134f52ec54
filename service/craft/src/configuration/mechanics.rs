//! The plain formulas of a needle in skin: cone, crank, coverage.
//!
//! Each is exact for its model; the model's limits stand beside it. None of
//! them leaves the service as a clinical statement.

use std::f64::consts::PI;

/// Diameter of the hole of a straight cone at a depth, in millimetres:
/// `min(d, d·z/L)`, and 0 above the skin.
///
/// The real profile of the point was not found measured; a cone is assumed.
#[must_use]
pub fn hole_diameter_mm(diameter_mm: f64, taper_mm: f64, depth_mm: f64) -> f64 {
    (diameter_mm * depth_mm / taper_mm).clamp(0.0, diameter_mm)
}

/// Area of a disc by its diameter.
#[must_use]
pub fn disc_area(diameter: f64) -> f64 {
    0.25 * PI * diameter * diameter
}

/// Peak speed of the tip of a crank drive, in mm/s: `π·f·s`.
#[must_use]
pub fn peak_speed_mm_s(stroke_mm: f64, rate_hz: f64) -> f64 {
    PI * rate_hz * stroke_mm
}

/// Speed at which the tip meets the skin, in mm/s: `2π·f·√(p·(s − p))` at a
/// penetration *p*; 0 where the penetration is not below the stroke.
#[must_use]
pub fn entry_speed_mm_s(stroke_mm: f64, rate_hz: f64, depth_mm: f64) -> f64 {
    2.0 * PI * rate_hz * (depth_mm * (stroke_mm - depth_mm)).max(0.0).sqrt()
}

/// Time in the skin in each cycle, in ms: `acos(1 − 2p/s)/(π·f)`; the whole
/// cycle where the penetration is not below the stroke.
#[must_use]
pub fn dwell_ms(stroke_mm: f64, rate_hz: f64, depth_mm: f64) -> f64 {
    let cosine = (1.0 - 2.0 * depth_mm / stroke_mm).clamp(-1.0, 1.0);
    1e3 * cosine.acos() / (PI * rate_hz)
}

/// Share of an area that random holes cover at least once: `1 − exp(−λa)`
/// with λ holes of mean area *a* per area (Boolean model).
#[must_use]
pub fn coverage(holes_per_mm2: f64, hole_area_mm2: f64) -> f64 {
    -(-holes_per_mm2 * hole_area_mm2).exp_m1()
}

/// Share of an area that is hit at least twice: `1 − e^(−µ)·(1 + µ)`.
#[must_use]
pub fn repeat_hits(holes_per_mm2: f64, hole_area_mm2: f64) -> f64 {
    let mean = holes_per_mm2 * hole_area_mm2;
    if mean < 1e-3 {
        // The same as a series: the difference below would lose its digits.
        return mean * mean * (0.5 - mean * (1.0 / 3.0 - mean * 0.125));
    }
    -(-mean).exp_m1() - mean * (-mean).exp()
}
