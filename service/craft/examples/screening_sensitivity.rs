//! How far the bands of the caution score hang on any one number.
//!
//! Points and cut-points are judgement. This screens the invented clients of
//! `vignettes.jsonl`, then changes every factor and every cut-point by one, one
//! at a time, and prints the share of clients that fall into another band. A
//! share under 10 % for a change is the aim; the figures are measured, not chosen.
//!
//! `cargo run -p etui-craft --example screening_sensitivity`

use std::error::Error;
use std::sync::Arc;

use etui_craft::evidence::Register;
use etui_craft::screening::answers::{Answers, Given};
use etui_craft::screening::gate::{Case, Visit};
use etui_craft::screening::rulebook::Rulebook;
use etui_craft::screening::score;
use etui_schema::vocabulary::{Skin, Treatment};
use jiff::civil::date;
use serde::Deserialize;
use serde_json::{Map, Value};

const CLIENTS: &str = include_str!("vignettes.jsonl");

/// The most points that the loader accepts of a rule.
const MOST_POINTS: u8 = 4;

#[derive(Deserialize)]
struct Client {
    treatment: Treatment,
    answers: Map<String, Value>,
    skin: Skin,
}

fn main() -> Result<(), Box<dyn Error>> {
    let book = Rulebook::builtin(&Register::builtin()?)?;
    let mut vignettes = Vec::new();
    let mut bands = std::collections::BTreeMap::<String, usize>::new();
    for line in CLIENTS.lines().filter(|line| !line.starts_with("//")) {
        let (vignette, band) = screened(&book, &serde_json::from_str(line)?)?;
        *bands.entry(band).or_default() += 1;
        vignettes.push(vignette);
    }
    let shares = one_at_a_time(&book, &vignettes);
    let (cuts, factors): (Vec<&Share>, Vec<&Share>) = shares
        .iter()
        .partition(|share| book.bands().iter().any(|band| share.change.starts_with(&*band.id)));
    println!("{} clients, bands {bands:?}", vignettes.len());
    table("one point more or less for one factor", factors);
    table("one cut-point one up or down", cuts);
    Ok(())
}

fn screened(book: &Rulebook, client: &Client) -> Result<(Vignette, String), Box<dyn Error>> {
    let on = date(2027, 3, 18);
    let visit = Visit {
        treatment: client.treatment,
        on,
        on_in_studio: on,
        as_of: on,
        born_on: date(1985, 5, 5),
        country: None,
    };
    let mut answers: Map<String, Value> = book
        .questions(visit.treatment, on, on)
        .filter(|question| question.follows.is_none())
        .filter_map(|question| Some((question.id.to_string(), question.clear_answer()?)))
        .collect();
    answers.extend(client.answers.clone());
    let lists: Vec<Vec<String>> = answers.values().map(list).collect();
    let given =
        answers.iter().zip(&lists).map(|((id, value), list)| (id.as_str(), given(value, list)));
    let answers = Answers::read(book, &visit, given).map_err(|faults| format!("{faults:?}"))?;
    let case = Case { visit, answers: &answers, skin: Some(&client.skin), overrides: &[] };
    let found = book.assess(&case).map_err(|faults| format!("{faults:?}"))?;
    let spoke = found.findings.iter().map(|finding| finding.rule.id.clone()).collect();
    let band = found.score.band.map_or_else(|| "withheld".to_owned(), |band| band.id.to_string());
    Ok((Vignette { treatment: client.treatment, spoke }, band))
}

fn list(value: &Value) -> Vec<String> {
    let items = value.as_array().map_or(&[][..], Vec::as_slice);
    items.iter().filter_map(Value::as_str).map(str::to_owned).collect()
}

fn given<'a>(value: &'a Value, list: &'a [String]) -> Given<'a> {
    match value {
        Value::Bool(yes) => Given::YesNo(*yes),
        Value::String(text) => Given::Text(text),
        Value::Number(number) => Given::Number(number.as_f64().unwrap_or(f64::NAN)),
        Value::Array(_) | Value::Null | Value::Object(_) => Given::Choices(list),
    }
}

fn table(what: &str, mut shares: Vec<&Share>) {
    shares.sort_by(|a, b| b.moved.cmp(&a.moved).then_with(|| a.change.cmp(&b.change)));
    let percent = |share: &Share| 100.0 * share.fraction();
    let over = shares.iter().filter(|share| 10.0 < percent(share)).count();
    let mean = shares.iter().map(|share| percent(share)).sum::<f64>()
        / f64::from(u32::try_from(shares.len().max(1)).unwrap_or(1));
    println!("\n{what}: {} changes, mean {mean:.1} %, over 10 %: {over}", shares.len());
    for share in shares.iter().take(8) {
        println!(
            "  {:<34} {:>2} of {} ({:.1} %)",
            share.change,
            share.moved,
            share.of,
            percent(share)
        );
    }
}

/// What a vignette scores: the rules that spoke, by id.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Vignette {
    /// Its treatment.
    treatment: Treatment,
    /// The rules that spoke.
    spoke: Vec<Arc<str>>,
}

/// The share of vignettes that one change moves into another band.
#[derive(Debug, Clone, PartialEq)]
struct Share {
    /// What was changed: `rule_id +1`, `moderate -1`.
    change: String,
    /// How many vignettes changed their band.
    moved: usize,
    /// Out of how many.
    of: usize,
}

impl Share {
    /// The share, 0 to 1; 0 without vignettes.
    fn fraction(&self) -> f64 {
        let count = |n: usize| f64::from(u32::try_from(n).unwrap_or(u32::MAX));
        if self.of == 0 { 0.0 } else { count(self.moved) / count(self.of) }
    }
}

/// Changes every factor and every cut-point by one up and one down.
///
/// A change that the limits of points forbid, or that would make two bands
/// begin at the same score, is left out.
fn one_at_a_time(book: &Rulebook, vignettes: &[Vignette]) -> Vec<Share> {
    let base: Vec<Option<&str>> =
        vignettes.iter().map(|vignette| band(book, vignette, None, None)).collect();
    let share = |change: String, points: Option<(&str, u16)>, cut: Option<(usize, u16)>| {
        let moved = vignettes
            .iter()
            .zip(&base)
            .filter(|(vignette, before)| band(book, vignette, points, cut) != **before)
            .count();
        Share { change, moved, of: vignettes.len() }
    };
    let mut shares = Vec::new();
    for rule in book.all_rules().iter().filter(|rule| rule.group.is_some()) {
        let points = rule.points;
        if points < MOST_POINTS {
            let changed = (&*rule.id, u16::from(points) + 1);
            shares.push(share(format!("{} +1", rule.id), Some(changed), None));
        }
        if 0 < points {
            let changed = (&*rule.id, u16::from(points) - 1);
            shares.push(share(format!("{} -1", rule.id), Some(changed), None));
        }
    }
    let bands = book.bands();
    for (at, limit) in bands.iter().enumerate().skip(1) {
        if bands.get(at + 1).is_none_or(|next| limit.from + 1 < next.from) {
            shares.push(share(format!("{} +1", limit.id), None, Some((at, limit.from + 1))));
        }
        if bands[at - 1].from + 1 < limit.from {
            shares.push(share(format!("{} -1", limit.id), None, Some((at, limit.from - 1))));
        }
    }
    shares
}

/// The band of a vignette, with one factor or one cut-point changed.
fn band<'b>(
    book: &'b Rulebook,
    vignette: &Vignette,
    points: Option<(&str, u16)>,
    cut: Option<(usize, u16)>,
) -> Option<&'b str> {
    let mut sums = vec![0_u16; book.groups().len()];
    for rule in vignette.spoke.iter().filter_map(|id| book.rule(id)) {
        let Some(group) = rule.group else { continue };
        let given = match points {
            Some((id, changed)) if *id == *rule.id => changed,
            _ => u16::from(rule.points),
        };
        sums[group] += given;
    }
    let total = sums.iter().zip(book.groups()).map(|(sum, group)| group.cap.min(*sum)).sum();
    let mut bands = book.bands().to_vec();
    if let Some((at, from)) = cut {
        bands[at].from = from;
    }
    let id = &score::band(&bands, total)?.id;
    book.bands().iter().find(|band| band.id == *id).map(|band| &*band.id)
}

#[test]
fn sensitivity_counts_what_moves() {
    let book = Rulebook::builtin(&Register::builtin().unwrap()).unwrap();
    let spoke = |ids: &[&str]| Vignette {
        treatment: Treatment::Brows,
        spoke: ids.iter().map(|id| (*id).into()).collect(),
    };
    let vignettes = [spoke(&["keloid"]), spoke(&["nickel_allergy"]), spoke(&[])];
    let shares = one_at_a_time(&book, &vignettes);
    let moved = |change: &str| shares.iter().find(|share| share.change == change).unwrap().moved;
    assert_eq!(moved("nickel_allergy +1"), 1);
    assert_eq!(moved("keloid -1"), 0);
    assert_eq!(moved("moderate -1"), 1);
    assert!(shares.iter().all(|share| share.of == 3 && share.fraction() <= 1.0));
    assert!(!shares.iter().any(|share| share.change == "keloid +1"), "4 points are the most");
}
