//! Plane geometry of discs: convex hull and union.
//!
//! The hull of equal discs of radius *r* around points is the hull of the
//! points grown by *r*; by Steiner's formula its area is
//! `A + P·r + π·r²` with the area *A* and perimeter *P* of the points' hull.

use std::f64::consts::{PI, TAU};

/// A point in the plane.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Point {
    /// Across the travel.
    pub x: f64,
    /// Along the travel.
    pub y: f64,
}

impl Point {
    /// Distance to another point.
    #[must_use]
    pub fn distance(self, other: Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }
}

/// The convex hull of points, counter-clockwise, without points on its edges
/// (monotone chain). One or two points are their own hull.
#[must_use]
pub fn convex_hull(points: &[Point]) -> Vec<Point> {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    sorted.dedup();
    if sorted.len() < 3 {
        return sorted;
    }
    let mut hull: Vec<Point> = Vec::with_capacity(sorted.len() + 1);
    half_hull(&mut hull, sorted.iter().copied());
    half_hull(&mut hull, sorted.iter().rev().copied());
    hull
}

/// Appends one half of the chain, leaving out its last point.
fn half_hull(hull: &mut Vec<Point>, points: impl Iterator<Item = Point>) {
    let start = hull.len();
    for point in points {
        while start + 2 <= hull.len()
            && cross(hull[hull.len() - 2], hull[hull.len() - 1], point) <= 0.0
        {
            hull.pop();
        }
        hull.push(point);
    }
    hull.pop();
}

fn cross(o: Point, a: Point, b: Point) -> f64 {
    (a.x - o.x) * (b.y - o.y) - (a.y - o.y) * (b.x - o.x)
}

/// Area and perimeter of a convex polygon. Two points enclose nothing and
/// have twice their distance as perimeter.
#[must_use]
pub fn area_and_perimeter(polygon: &[Point]) -> (f64, f64) {
    let mut area = 0.0;
    let mut perimeter = 0.0;
    for (i, a) in polygon.iter().enumerate() {
        let b = polygon[(i + 1) % polygon.len()];
        area += a.x * b.y - b.x * a.y;
        perimeter += a.distance(b);
    }
    (0.5 * area.abs(), perimeter)
}

/// Area of the convex hull of equal discs.
#[must_use]
pub fn hull_area_of_discs(centres: &[Point], radius: f64) -> f64 {
    let (area, perimeter) = area_and_perimeter(&convex_hull(centres));
    area + perimeter * radius + PI * radius * radius
}

/// Area covered by at least one of the discs, exactly: the sum over the arcs
/// of the union's border (Green's theorem).
#[must_use]
pub fn union_area_of_discs(discs: &[(Point, f64)]) -> f64 {
    discs.iter().enumerate().map(|(i, disc)| free_border(discs, i, *disc)).sum()
}

/// What the uncovered arcs of one disc's border contribute to the area.
fn free_border(discs: &[(Point, f64)], index: usize, (centre, radius): (Point, f64)) -> f64 {
    let mut covered: Vec<(f64, f64)> = Vec::new();
    for (other_index, &(other, other_radius)) in discs.iter().enumerate() {
        let distance = centre.distance(other);
        if other_index == index || radius + other_radius <= distance {
            continue;
        }
        // Swallowed whole; of two equal discs in one place the first remains.
        let same = distance == 0.0 && (other_radius - radius).abs() <= f64::EPSILON;
        if distance + radius <= other_radius && (!same || other_index < index) {
            return 0.0;
        }
        if same || distance + other_radius <= radius {
            continue;
        }
        let towards = (other.y - centre.y).atan2(other.x - centre.x);
        let cosine = (radius * radius + distance * distance - other_radius * other_radius)
            / (2.0 * radius * distance);
        let half = cosine.clamp(-1.0, 1.0).acos();
        push_arc(&mut covered, towards - half, towards + half);
    }
    covered.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut area = 0.0;
    let mut at = 0.0;
    for (from, to) in covered {
        if at < from {
            area += arc_integral(centre, radius, at, from);
        }
        at = at.max(to);
    }
    if at < TAU {
        area += arc_integral(centre, radius, at, TAU);
    }
    area
}

/// Adds an arc to a list of arcs inside 0 to 2π, splitting it at 0.
fn push_arc(arcs: &mut Vec<(f64, f64)>, from: f64, to: f64) {
    let start = from.rem_euclid(TAU);
    let end = start + (to - from);
    if end <= TAU {
        arcs.push((start, end));
    } else {
        arcs.push((start, TAU));
        arcs.push((0.0, end - TAU));
    }
}

/// ½ ∮ (x dy − y dx) along an arc.
fn arc_integral(centre: Point, radius: f64, from: f64, to: f64) -> f64 {
    0.5 * radius
        * (radius * (to - from) + centre.x * (to.sin() - from.sin())
            - centre.y * (to.cos() - from.cos()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(x: f64, y: f64) -> Point {
        Point { x, y }
    }

    #[test]
    fn hulls_of_few_discs_are_what_they_are_by_hand() {
        for (centres, want) in [
            (vec![at(0.0, 0.0)], PI),
            (vec![at(0.0, 0.0), at(2.0, 0.0)], PI + 4.0),
            (vec![at(0.0, 0.0), at(2.0, 0.0), at(4.0, 0.0)], PI + 8.0),
            (vec![at(0.0, 0.0), at(2.0, 0.0), at(2.0, 2.0), at(0.0, 2.0), at(1.0, 1.0)], PI + 12.0),
        ] {
            let found = hull_area_of_discs(&centres, 1.0);
            assert!((found - want).abs() < 1e-12, "{centres:?}: {found} instead of {want}");
        }
    }

    #[test]
    fn unions_count_what_is_shared_once() {
        // Two unit discs at distance 1 share 2π/3 − √3/2.
        let lens = 2.0 * PI / 3.0 - 3.0_f64.sqrt() / 2.0;
        for (discs, want) in [
            (vec![(at(0.0, 0.0), 1.0)], PI),
            (vec![(at(3.0, 5.0), 1.0), (at(6.0, 5.0), 1.0)], 2.0 * PI),
            (vec![(at(0.0, 0.0), 1.0), (at(1.0, 0.0), 1.0)], 2.0 * PI - lens),
            (vec![(at(0.0, 0.0), 1.0), (at(0.0, 0.0), 1.0)], PI),
            (vec![(at(0.0, 0.0), 2.0), (at(0.5, 0.0), 1.0)], 4.0 * PI),
        ] {
            let found = union_area_of_discs(&discs);
            assert!((found - want).abs() < 1e-12, "{discs:?}: {found} instead of {want}");
        }
    }
}
