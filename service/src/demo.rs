//! One afternoon in a made-up studio, played over HTTP through the client.
//!
//! Everything happens on a temporary folder and on dates counted from today,
//! so that it holds on any day.

use std::fmt::Write as _;
use std::sync::Arc;

use etui_client::Client;
use etui_schema::appointment_checks::AppointmentCheck;
use etui_schema::places;
use etui_schema::vocabulary::Zone;
use jiff::{SignedDuration, Timestamp};
use serde_json::{Value, json};

use crate::config::Config;
use crate::http::background;
use crate::http::boot::OWNER_TOKEN;
use crate::http::clock::{Sources, System};

/// Why the demo stopped.
type Failed = Box<dyn std::error::Error>;

/// Plays the afternoon and gives its account.
///
/// # Errors
/// Whatever the service refused or could not do.
pub fn play() -> Result<String, Failed> {
    let folder = tempfile::tempdir()?;
    let zone: Zone = "Europe/Berlin".parse()?;
    let sources = Arc::new(System);
    let now = sources.now();
    let service = background::start(Config::in_folder(folder.path().to_owned(), zone), sources)?;
    let token = std::fs::read_to_string(folder.path().join(OWNER_TOKEN))?;
    let client =
        Client::builder(format!("http://{}", service.address())).token(token.trim()).build()?;
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
    let account = runtime.block_on(afternoon(&client, now))?;
    service.stop();
    Ok(account)
}

async fn afternoon(client: &Client, now: Timestamp) -> Result<String, Failed> {
    let mut out = String::new();
    let expiry_year = now.strftime("%Y").to_string().parse::<i32>()? + 2;
    packets(client, &mut out, expiry_year).await?;
    comparison(client, &mut out).await?;
    records(client, now).await?;
    let check = check(client, &mut out, now).await?;
    let kept = client.get_appointment_check(check.id).await?;
    let same = kept.value == check;
    writeln!(
        out,
        "\nKept as {} and read back: {}",
        check.id,
        if same { "the same." } else { "DIFFERENT." }
    )?;
    writeln!(
        out,
        "\nThis is common practice and expert judgement, not medical advice; local rules and licensed practice come first."
    )?;
    if same { Ok(out) } else { Err("the stored check differs from the one that was given".into()) }
}

/// Reads a delivery and puts it into the drawer.
async fn packets(client: &Client, out: &mut String, year: i32) -> Result<(), Failed> {
    let yy = year.rem_euclid(100);
    let delivery = [
        (
            format!("0.25 3RS LOT 23A114 EXP {year}-08 STERILE EO"),
            Some(format!("]d2010952123454321317{yy:02}083110{}", "23A114")),
        ),
        (format!("0801RL LOT 9K2 EXP {year}-03 STERILE R"), None),
        (format!("1005RS ST LOT 77-B EXP {year}-06"), None),
        (format!("3RL 0,30mm LOT F4 EXP {year}-05"), None),
        ("3RL10".to_owned(), None),
    ];
    let labels: Vec<Value> = delivery
        .iter()
        .map(|(text, symbol)| match symbol {
            Some(symbol) => json!({ "text": text, "symbol": symbol }),
            None => json!({ "text": text }),
        })
        .collect();
    let readings = client.read_labels(&places::read(&json!({ "labels": labels }))?).await?;
    writeln!(out, "1. A delivery: what the packets say\n")?;
    for ((text, symbol), reading) in delivery.iter().zip(&readings.readings) {
        let best = reading.candidates.first();
        let read = best.map_or("nothing", |candidate| candidate.canonical.as_str());
        let outcome = serde_json::to_value(&reading.outcome)?;
        writeln!(out, "   {text:<46} {} -> {read}", outcome.as_str().unwrap_or_default())?;
        if reading.candidates.len() < 2 {
            let mut body = json!({ "text": text, "packs": 10, "maker": "north supplier" });
            if let Some(symbol) = symbol {
                body["symbol"] = json!(symbol);
            }
            client.receive_lot(&places::read(&body)?).await?;
        }
    }
    Ok(())
}

/// Sets three configurations side by side.
async fn comparison(client: &Client, out: &mut String) -> Result<(), Failed> {
    let request = json!({
        "configurations": [{ "label": "0.25 1RL" }, { "label": "0.25 3RS" }, { "label": "0.30 5RS" }],
        "setting": setting(),
    });
    let compared = client.compare_configurations(&places::read(&request)?).await?;
    writeln!(
        out,
        "\n2. In fine, dry skin of 68, under a heavy hand and a firm machine of 3.5 mm\n"
    )?;
    for one in &compared.compared {
        let m = &one.measures;
        writeln!(
            out,
            "   {:<10} band {:.2} mm, pressure {:.2}, trauma {:.2}  {}",
            one.canonical, m.band_width_mm, m.pressure_index, m.trauma_index, one.because
        )?;
    }
    Ok(())
}

fn setting() -> Value {
    json!({
        "hand": "heavy",
        "machine": { "stroke_mm": 3.5, "rate_hz": 100.0, "give": "firm" },
        "site": "brow",
        "skin": { "age_years": 68, "oiliness": "dry", "thickness": "fine" },
    })
}

/// Makes the studio know its artist, machine and client.
async fn records(client: &Client, now: Timestamp) -> Result<(), Failed> {
    let artist = json!({ "hand": "heavy", "practice": [{
        "configuration": { "diameter_mm": 0.25, "count": 3, "grouping": "round_shader" },
        "on": now.strftime("%Y-%m-%d").to_string(), "signed_off_by": "trainer-1" }] });
    client.put_artist(&"artist-1".parse()?, &places::read(&artist)?, None).await?;
    let machine = json!({ "stroke_mm": 3.5, "rate_hz": 100.0, "give": "firm" });
    client.put_machine(&"machine-1".parse()?, &places::read(&machine)?, None).await?;
    Ok(())
}

/// Screens, chooses and dates in one call, and tells it.
async fn check(
    client: &Client,
    out: &mut String,
    now: Timestamp,
) -> Result<AppointmentCheck, Failed> {
    let starts_on = (now + SignedDuration::from_hours(21 * 24)).strftime("%Y-%m-%d").to_string();
    let born_year = now.strftime("%Y").to_string().parse::<i32>()? - 68;
    let answers =
        client.list_screening_questions(&places::read(&json!({ "treatment": "brows" }))?).await?;
    let healthy: serde_json::Map<String, Value> = answers
        .questions
        .iter()
        .filter(|question| {
            question.ask_if.as_ref().is_none_or(|after| after.question == "nickel_allergy")
        })
        .filter_map(|question| Some((question.id.clone(), unremarkable(question)?)))
        .collect();
    let body = json!({
        "booking_ref": "booking-1", "treatment": "brows", "effect": "soft_shading",
        "starts_at": format!("{starts_on}T09:00:00Z"), "zone": "Europe/Berlin", "artist_ref": "artist-1",
        "machine_ref": "machine-1", "born_on": format!("{born_year}-01-15"), "answers": healthy,
        "skin": { "age_years": 68, "oiliness": "dry", "thickness": "fine" }, "candidates": "drawer",
    });
    let check = client.create_appointment_check(&places::read(&body)?).await?;
    tell(out, &check)?;
    Ok(check)
}

/// The answer of somebody with nothing to report, for the demo's client only:
/// a form must never fill it in.
fn unremarkable(question: &etui_schema::screening_questions::ScreeningQuestion) -> Option<Value> {
    match question.kind.as_str() {
        "yes_no" => Some(json!(question.id == "nickel_allergy")),
        "choices" => Some(json!(["none_of_these"])),
        "choice" => question.options.last().map(|option| json!(option.id)),
        _ => None,
    }
}

fn tell(out: &mut String, check: &AppointmentCheck) -> std::fmt::Result {
    writeln!(
        out,
        "\n3. The check for {} ({} on {})\n",
        check.booking_ref, check.treatment, check.on
    )?;
    writeln!(out, "   {}: {}", check.verdict, check.summary)?;
    for finding in &check.findings {
        writeln!(
            out,
            "   - {}: {}",
            finding.rule,
            finding.condition.as_deref().unwrap_or(&finding.because)
        )?;
    }
    if let Some(needles) = &check.needles {
        writeln!(out, "\n   Needles from the drawer, best first:")?;
        for needle in &needles.ranked {
            writeln!(
                out,
                "   {:<12} {:.2}  {} lot(s)",
                needle.canonical,
                needle.desirability,
                needle.lots.len()
            )?;
            for answer in &needle.answers {
                writeln!(out, "       {:<10} {}", answer.question, answer.because)?;
            }
        }
    }
    writeln!(out, "\n   To do:")?;
    for item in &check.todo {
        let due = item.due.map_or_else(|| "no date".to_owned(), |day| format!("by {day}"));
        writeln!(out, "   {due} ({}): {}", item.who, item.text)?;
    }
    let plan = &check.aftercare;
    writeln!(out, "\n4. Aftercare if it goes ahead: {} steps", plan.steps.len())?;
    for step in plan.steps.iter().filter(|step| step.message).take(4) {
        writeln!(out, "   {}  {}", step.local, step.text)?;
    }
    writeln!(out, "   touch-up not before {}", plan.milestones.touch_up_earliest)
}
