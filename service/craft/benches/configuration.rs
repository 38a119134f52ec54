//! How long the computations about configurations take, on one core.
//!
//! ```text
//! cargo bench -p etui-craft --bench configuration
//! ```

use std::error::Error;
use std::hint::black_box;
use std::time::{Duration, Instant};

use etui_craft::configuration::pattern::{Ground, Jitter, PatternRequest};
use etui_craft::configuration::{Complete, Model};
use etui_schema::vocabulary::{Grouping, Setting};

/// The fastest and the middle of many rounds.
fn timed<T>(name: &str, rounds: usize, mut work: impl FnMut() -> T) {
    let mut taken: Vec<Duration> = Vec::with_capacity(rounds);
    for _ in 0..rounds {
        let start = Instant::now();
        black_box(work());
        taken.push(start.elapsed());
    }
    taken.sort();
    let micros = |taken: Duration| taken.as_secs_f64() * 1e6;
    println!("{name}, fastest: {:.2} µs", micros(taken[0]));
    println!("{name}, in the middle: {:.2} µs", micros(taken[rounds / 2]));
}

fn main() -> Result<(), Box<dyn Error>> {
    timed("load the model", 20, || Model::builtin().is_ok());
    let model = Model::builtin()?;
    let circumstances = model.circumstances(&Setting::default());
    let counts = [1, 3, 5, 7, 9, 11, 15, 23, 2, 4];
    let diameters = [0.18, 0.20, 0.25, 0.30, 0.35];
    let candidates: Vec<Complete> = (0..250)
        .map(|i| Complete {
            diameter_mm: diameters[i % diameters.len()],
            count: counts[(i / 5) % counts.len()],
            grouping: Grouping::ALL[(i / 10) % Grouping::ALL.len()],
            taper: None,
        })
        .collect();
    timed("measure 250", 400, || {
        candidates.iter().map(|c| model.measure(c, &circumstances).trauma_index).sum::<f64>()
    });
    let spread: Vec<Complete> = candidates.iter().step_by(11).take(24).copied().collect();
    timed("compare 24", 400, || model.compare(&spread, &circumstances));
    let request = PatternRequest {
        configuration: candidates[8],
        circumstances: model.circumstances(&Setting { passes: Some(1), ..Setting::default() }),
        ground: Ground::Area { width_mm: 50.0, height_mm: 50.0 },
        jitter: Jitter::default(),
        seed: 1,
    };
    let once = model.pattern(&request)?.dots.len();
    let scale = 100_000.0 / f64::from(u32::try_from(once)?);
    let mut asked = request.clone();
    asked.circumstances.hand_speed_mm_s /= scale;
    timed("pattern of 100,000 with statistics", 40, || {
        model.pattern(&asked).map(|pattern| pattern.statistics(1))
    });
    timed("pattern of 100,000, dots alone", 40, || model.pattern(&asked));
    Ok(())
}
