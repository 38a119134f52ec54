//! How far the bands of the caution score hang on any one number.
//!
//! Screens the invented clients of `vignettes.jsonl`, then changes every
//! factor and every cut-point by one, one at a time, and prints the share of
//! clients that fall into another band.
//!
//! `cargo run -p etui-craft --example screening_sensitivity`

use std::error::Error;

use etui_craft::evidence::Register;
use etui_craft::screening::answers::{Answers, Given};
use etui_craft::screening::gate::{Case, Visit};
use etui_craft::screening::rulebook::Rulebook;
use etui_craft::screening::sensitivity::{Share, Vignette, one_at_a_time};
use etui_schema::vocabulary::{Skin, Treatment};
use jiff::civil::date;
use serde::Deserialize;
use serde_json::{Map, Value};

const CLIENTS: &str = include_str!("vignettes.jsonl");

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
