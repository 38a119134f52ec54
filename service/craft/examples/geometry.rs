//! Prints 200 configurations with their tips, holes and areas as JSON, for
//! `tests/conformance/geometry.py` to recompute with other libraries.

use std::error::Error;

use etui_craft::configuration::hull::{Point, hull_area_of_discs, union_area_of_discs};
use etui_craft::configuration::mechanics::{coverage, repeat_hits};
use etui_craft::configuration::pattern::Chance;
use etui_craft::configuration::{Complete, Model};
use etui_schema::vocabulary::{Grouping, Setting, Taper};
use serde_json::{Value, json};

fn pick<T: Copy>(chance: &mut Chance, all: &[T]) -> T {
    let at = chance.bits() % u64::try_from(all.len()).unwrap_or(1);
    all[usize::try_from(at).unwrap_or(0)]
}

fn main() -> Result<(), Box<dyn Error>> {
    let model = Model::builtin()?;
    let mut chance = Chance::new(2027);
    let counts: Vec<u8> = (1..=49).collect();
    let mut all: Vec<Value> = Vec::with_capacity(200);
    for _ in 0..200 {
        let configuration = Complete {
            diameter_mm: 0.15 + 0.30 * chance.unit(),
            count: pick(&mut chance, &counts),
            grouping: pick(&mut chance, Grouping::ALL),
            taper: Some(pick(&mut chance, Taper::ALL)),
        };
        let told = Setting { depth_mm: Some(0.1 + 1.5 * chance.unit()), ..Setting::default() };
        let measures = model.measure(&configuration, &model.circumstances(&told));
        let layout = model.layout(configuration.grouping, configuration.count);
        let d = configuration.diameter_mm;
        let tips: Vec<Point> =
            layout.tips.iter().map(|t| Point { x: t.x * d, y: t.y * d }).collect();
        // Discs that overlap at random, as holes of a deep stroke may.
        let discs: Vec<(Point, f64)> =
            tips.iter().map(|tip| (*tip, d * (0.2 + 0.8 * chance.unit()))).collect();
        all.push(json!({
            "configuration": configuration.canonical(),
            "diameter_mm": d,
            "tips": tips.iter().map(|t| [t.x, t.y]).collect::<Vec<_>>(),
            "footprint_mm2": measures.footprint_mm2,
            "hull_mm2": hull_area_of_discs(&tips, 0.5 * d),
            "nearest_gap_mm": measures.nearest_gap_mm,
            "band_width_mm": measures.band_width_mm,
            "discs": discs.iter().map(|(c, r)| [c.x, c.y, *r]).collect::<Vec<_>>(),
            "union_mm2": union_area_of_discs(&discs),
            "punctures_per_mm2": measures.punctures_per_mm2,
            "hole_area_mm2": measures.hole_area_mm2,
            "coverage": coverage(measures.punctures_per_mm2, measures.hole_area_mm2),
            "repeat_hits": repeat_hits(measures.punctures_per_mm2, measures.hole_area_mm2),
        }));
    }
    println!("{}", serde_json::to_string(&all)?);
    Ok(())
}
