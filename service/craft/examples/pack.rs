//! Finds dense packings of 1 to 49 equal circles in a circle and prints
//! `rules/configuration/packing.toml`.
//!
//! ```text
//! cargo run --release -p etui-craft --example pack -- 1000 > packing.toml
//! ```
//!
//! The arguments are the number of starts per count (100) and the first and the
//! last count (1, 49). A start is random, a piece of triangular lattice, or the
//! best so far with a few circles moved. Each is relaxed by minimising
//! `Σ overlap² + µ·R` over the centres and the container's radius *R* (limited
//! memory BFGS), with µ lowered step by step until overlaps are about 1e-12.
//! The ratio is then read from the centres themselves, so a rough end can only
//! make it worse, never false. The numbers of a run follow from a fixed seed.

use std::collections::VecDeque;

/// xorshift64*: enough to scatter starts.
struct Scatter(u64);

impl Scatter {
    fn unit(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let bits = self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11;
        bits as f64 / (1u64 << 53) as f64
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "between 0 and a small end"
    )]
    fn below(&mut self, end: usize) -> usize {
        ((self.unit() * end as f64) as usize).min(end - 1)
    }
}

/// Variables: x0, y0, x1, y1, … and last the container's radius.
fn energy(variables: &[f64], mu: f64, gradient: &mut [f64]) -> f64 {
    let n = variables.len() / 2;
    let radius = variables[2 * n];
    gradient.fill(0.0);
    gradient[2 * n] = mu;
    let mut energy = mu * radius;
    for i in 0..n {
        let (x, y) = (variables[2 * i], variables[2 * i + 1]);
        let reach = x.hypot(y);
        let out = reach + 1.0 - radius;
        if 0.0 < out && 0.0 < reach {
            energy += out * out;
            gradient[2 * i] += 2.0 * out * x / reach;
            gradient[2 * i + 1] += 2.0 * out * y / reach;
            gradient[2 * n] -= 2.0 * out;
        }
        for j in i + 1..n {
            let (dx, dy) = (x - variables[2 * j], y - variables[2 * j + 1]);
            let squared = dx * dx + dy * dy;
            if squared < 4.0 && 0.0 < squared {
                let distance = squared.sqrt();
                let overlap = 2.0 - distance;
                energy += overlap * overlap;
                let (gx, gy) = (2.0 * overlap * dx / distance, 2.0 * overlap * dy / distance);
                gradient[2 * i] -= gx;
                gradient[2 * i + 1] -= gy;
                gradient[2 * j] += gx;
                gradient[2 * j + 1] += gy;
            }
        }
    }
    energy
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The two-loop recursion of limited-memory BFGS.
fn direction(gradient: &[f64], memory: &VecDeque<(Vec<f64>, Vec<f64>)>) -> Vec<f64> {
    let mut q: Vec<f64> = gradient.iter().map(|g| -g).collect();
    let mut factors = Vec::with_capacity(memory.len());
    for (step, change) in memory.iter().rev() {
        let factor = dot(step, &q) / dot(step, change);
        q.iter_mut().zip(change).for_each(|(q, c)| *q -= factor * c);
        factors.push(factor);
    }
    let scale = memory.back().map_or(0.1, |(s, c)| dot(s, c) / dot(c, c));
    q.iter_mut().for_each(|q| *q *= scale);
    for ((step, change), factor) in memory.iter().zip(factors.iter().rev()) {
        let back = dot(change, &q) / dot(step, change);
        q.iter_mut().zip(step).for_each(|(q, s)| *q += (factor - back) * s);
    }
    q
}

/// Minimises from where the variables stand.
fn minimise(variables: &mut Vec<f64>, mu: f64, rounds: usize) {
    let size = variables.len();
    let mut gradient = vec![0.0; size];
    let mut value = energy(variables, mu, &mut gradient);
    let mut memory: VecDeque<(Vec<f64>, Vec<f64>)> = VecDeque::new();
    for _ in 0..rounds {
        if dot(&gradient, &gradient).sqrt() < 1e-4 * mu {
            return;
        }
        let mut way = direction(&gradient, &memory);
        let mut slope = dot(&gradient, &way);
        if 0.0 <= slope {
            memory.clear();
            way = gradient.iter().map(|g| -g).collect();
            slope = -dot(&gradient, &gradient);
        }
        let mut length = 1.0;
        let mut next = variables.clone();
        let mut next_gradient = vec![0.0; size];
        let mut next_value;
        loop {
            for i in 0..size {
                next[i] = variables[i] + length * way[i];
            }
            next_value = energy(&next, mu, &mut next_gradient);
            if next_value <= value + 1e-4 * length * slope {
                break;
            }
            length *= 0.5;
            if length < 1e-12 {
                return;
            }
        }
        let step: Vec<f64> = next.iter().zip(&*variables).map(|(a, b)| a - b).collect();
        let change: Vec<f64> = next_gradient.iter().zip(&gradient).map(|(a, b)| a - b).collect();
        if 1e-300 < dot(&step, &change) {
            if memory.len() == 12 {
                memory.pop_front();
            }
            memory.push_back((step, change));
        }
        *variables = next;
        gradient = next_gradient;
        value = next_value;
    }
}

/// Bundle radius over needle radius, as the centres show it.
fn ratio(centres: &[f64]) -> f64 {
    let n = centres.len() / 2;
    if n == 1 {
        return 1.0;
    }
    let mut nearest = f64::MAX;
    let mut reach: f64 = 0.0;
    for i in 0..n {
        reach = reach.max(centres[2 * i].hypot(centres[2 * i + 1]));
        for j in i + 1..n {
            let (dx, dy) =
                (centres[2 * i] - centres[2 * j], centres[2 * i + 1] - centres[2 * j + 1]);
            nearest = nearest.min(dx.hypot(dy));
        }
    }
    2.0 * reach / nearest + 1.0
}

/// Weights of the container's size and rounds at each, far from the end.
const ROUGH: &[(f64, usize)] = &[(0.3, 200), (3e-2, 200), (3e-3, 300), (3e-4, 400), (3e-5, 600)];

/// Down to the last digits.
const FINE: &[(f64, usize)] = &[
    (1e-5, 2000),
    (1e-6, 2000),
    (1e-7, 4000),
    (1e-8, 4000),
    (1e-9, 6000),
    (1e-10, 6000),
    (1e-11, 8000),
    (1e-12, 8000),
];

/// Relaxes a start.
fn relax(mut variables: Vec<f64>, steps: &[(f64, usize)]) -> Vec<f64> {
    for (mu, rounds) in steps {
        minimise(&mut variables, *mu, *rounds);
    }
    variables
}

/// The points of a triangular lattice nearest to a random middle.
fn lattice(n: usize, scatter: &mut Scatter) -> Vec<f64> {
    let (ox, oy) = (2.0 * scatter.unit(), 2.0 * scatter.unit());
    let mut points: Vec<(f64, f64)> = (-9..=9_i32)
        .flat_map(|i| (-9..=9_i32).map(move |j| (f64::from(i), f64::from(j))))
        .map(|(i, j)| (2.0 * i + j - ox, 3.0_f64.sqrt() * j - oy))
        .collect();
    points.sort_by(|a, b| a.0.hypot(a.1).total_cmp(&b.0.hypot(b.1)));
    let mut variables: Vec<f64> = points[..n].iter().flat_map(|p| [p.0, p.1]).collect();
    variables.iter_mut().for_each(|v| *v += 0.02 * (scatter.unit() - 0.5));
    variables.push((n as f64 / 0.7).sqrt() + 0.3);
    variables
}

/// Circles anywhere in a container that is a little too large.
fn anywhere(radius: f64, scatter: &mut Scatter) -> (f64, f64) {
    let reach = (radius - 1.0).max(0.0) * scatter.unit().sqrt();
    let angle = scatter.unit() * std::f64::consts::TAU;
    (reach * angle.cos(), reach * angle.sin())
}

/// The best so far with every circle nudged and a few moved away.
fn disturbed(best: &[f64], n: usize, radius: f64, scatter: &mut Scatter) -> Vec<f64> {
    let nudge = 0.1 + 0.5 * scatter.unit();
    let mut variables: Vec<f64> = best.iter().map(|v| v + nudge * (scatter.unit() - 0.5)).collect();
    for _ in 0..=scatter.below(3) {
        let i = scatter.below(n);
        let (x, y) = anywhere(radius, scatter);
        variables[2 * i] = x;
        variables[2 * i + 1] = y;
    }
    variables[2 * n] = radius;
    variables
}

fn start(n: usize, best: Option<&Vec<f64>>, scatter: &mut Scatter) -> Vec<f64> {
    let radius = (n as f64 / 0.7).sqrt() + 0.3;
    let kind = scatter.unit();
    if kind < 0.1 {
        return lattice(n, scatter);
    }
    if let Some(best) = best.filter(|_| kind < 0.6) {
        return disturbed(best, n, radius, scatter);
    }
    let mut variables = Vec::with_capacity(2 * n + 1);
    for _ in 0..n {
        let (x, y) = anywhere(radius, scatter);
        variables.extend([x, y]);
    }
    variables.push(radius);
    variables
}

/// The smallest bundle of `n` found in this many starts.
fn densest(n: usize, starts: usize) -> Vec<f64> {
    let mut scatter = Scatter(0x9E37_79B9_7F4A_7C15 ^ n as u64);
    let mut best: Option<(f64, Vec<f64>)> = None;
    for _ in 0..starts {
        let from = start(n, best.as_ref().map(|(_, v)| v), &mut scatter);
        let found = relax(from, ROUGH);
        let size = ratio(&found[..2 * n]);
        if best.as_ref().is_none_or(|(least, _)| size < least - 1e-9) {
            best = Some((size, found));
        }
    }
    let rough = best.map_or_else(Vec::new, |(_, rough)| rough);
    relax(rough, FINE)[..2 * n].to_vec()
}

/// How far a bundle turned by this angle is from being its own mirror image
/// left to right: the sum of the distances to the nearest mirrored circle.
fn asymmetry(centres: &[f64], turn: f64) -> f64 {
    let turned = turned(centres, turn);
    let mirrored = |c: &[f64]| {
        let off = |o: &[f64]| (o[0] + c[0]).hypot(o[1] - c[1]);
        turned.chunks(2).map(off).fold(f64::MAX, f64::min)
    };
    turned.chunks(2).map(mirrored).sum()
}

fn turned(centres: &[f64], turn: f64) -> Vec<f64> {
    let (sine, cosine) = turn.sin_cos();
    centres
        .chunks(2)
        .flat_map(|c| [c[0] * cosine - c[1] * sine, c[0] * sine + c[1] * cosine])
        .collect()
}

/// Turns a bundle so that it looks upright: as symmetric left to right as it
/// can be, an odd one with a circle on top.
fn upright(centres: &[f64]) -> Vec<f64> {
    let reach = centres.chunks(2).map(|c| c[0].hypot(c[1])).fold(0.0, f64::max);
    let on_wall = |c: &&[f64]| reach - 1e-6 < c[0].hypot(c[1]);
    let mut angles: Vec<f64> =
        centres.chunks(2).filter(on_wall).map(|c| c[1].atan2(c[0])).collect();
    angles.sort_by(f64::total_cmp);
    let between: Vec<f64> = angles
        .iter()
        .zip(angles.iter().cycle().skip(1))
        .map(|(a, b)| a + 0.5 * (b - a).rem_euclid(std::f64::consts::TAU))
        .collect();
    let odd = centres.len() / 2 % 2 == 1;
    let axes = if odd { [angles, between] } else { [between, angles] };
    let mut best = (f64::MAX, 0.0);
    for axis in axes.into_iter().flatten() {
        let turn = std::f64::consts::FRAC_PI_2 - axis;
        let off = asymmetry(centres, turn);
        if off < best.0 - 1e-6 {
            best = (off, turn);
        }
    }
    turned(centres, best.1)
}

/// A disc that nothing holds may lie anywhere in its hole; where the hole is
/// around the middle (8 and 9), as in a real bundle, it lies in the middle.
fn settled(mut centres: Vec<f64>) -> Vec<f64> {
    let reach = |c: &[f64]| c[0].hypot(c[1]);
    let discs = || centres.chunks(2).enumerate();
    let Some((inner, _)) = discs().min_by(|a, b| reach(a.1).total_cmp(&reach(b.1))) else {
        return centres;
    };
    if discs().all(|(i, c)| i == inner || 2.0 <= reach(c)) {
        centres[2 * inner..2 * inner + 2].fill(0.0);
    }
    centres
}

fn main() {
    let mut arguments = std::env::args().skip(1).filter_map(|a| a.parse::<usize>().ok());
    let starts = arguments.next().unwrap_or(100).max(1);
    let from = arguments.next().unwrap_or(1).max(1);
    let to = arguments.next().unwrap_or(49);
    println!(
        "# Centres of the densest bundles found, in needle radii around the middle.\n\
         # Written by examples/pack.rs; the ratio is recomputed from the centres when\n\
         # the table is loaded.\n"
    );
    for n in from..=to {
        let centres = if n == 1 { vec![0.0, 0.0] } else { upright(&densest(n, starts)) };
        let centres = settled(centres);
        eprintln!("{n} {:.10}", ratio(&centres));
        println!("[[packing]]\ncount = {n}\ncentres = [");
        for c in centres.chunks(2) {
            println!("  [{:.13}, {:.13}],", c[0], c[1]);
        }
        println!("]\n");
    }
}
