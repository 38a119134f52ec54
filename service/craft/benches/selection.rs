//! How long a selection among 250 candidates takes, on one core, with every
//! ranked needle described.
//!
//! ```text
//! cargo bench -p etui-craft --bench selection
//! ```

use std::error::Error;
use std::hint::black_box;
use std::time::{Duration, Instant};

use etui_craft::configuration::{Complete, Model};
use etui_craft::evidence::Register;
use etui_craft::selection::{Candidate, Request, Selector};
use etui_schema::vocabulary::{Effect, Grouping, Language, Setting, Treatment};

/// The rounds that are timed.
const ROUNDS: usize = 400;

fn main() -> Result<(), Box<dyn Error>> {
    let model = Model::builtin()?;
    let selector = Selector::builtin(&Register::builtin()?)?;
    let diameters = [0.18, 0.20, 0.25, 0.30, 0.35];
    let counts = [1, 2, 3, 4, 5, 7, 9, 11, 13, 15];
    let groupings = [
        Grouping::RoundLiner,
        Grouping::RoundShader,
        Grouping::Flat,
        Grouping::WovenMagnum,
        Grouping::CurvedMagnum,
    ];
    let mut candidates: Vec<Candidate> = Vec::new();
    for diameter_mm in diameters {
        for count in counts {
            for grouping in groupings {
                candidates.push(Complete { diameter_mm, count, grouping, taper: None }.into());
            }
        }
    }
    let setting = Setting::default();
    for (treatment, effect) in
        [(Treatment::Brows, Effect::SoftShading), (Treatment::Lips, Effect::DenseFill)]
    {
        let request = Request {
            treatment,
            effect,
            setting: &setting,
            candidates: &candidates,
            limit: candidates.len(),
            folds: false,
            language: Language::En,
        };
        let ranked = selector.select(&model, &request)?.ranked.len();
        let mut taken: Vec<Duration> = Vec::with_capacity(ROUNDS);
        for _ in 0..ROUNDS {
            let start = Instant::now();
            black_box(selector.select(&model, &request)?);
            taken.push(start.elapsed());
        }
        taken.sort();
        let name = format!("{treatment}, {effect}: {ranked} of {} ranked", candidates.len());
        let millis = |taken: Duration| taken.as_secs_f64() * 1e3;
        println!("{name}, fastest: {:.3} ms", millis(taken[0]));
        println!("{name}, in the middle: {:.3} ms", millis(taken[ROUNDS / 2]));
    }
    Ok(())
}
