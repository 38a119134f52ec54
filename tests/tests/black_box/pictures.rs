//! Sheets handed in as pictures: printed by the service, worked and scanned here.

use std::time::{Duration, Instant};

use etui_tests::child::Child;
use etui_tests::running::Running;
use etui_tests::scans::{self, scanned};
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

use crate::practice::{Studio, as_asked, look, marks};

const DPI: f64 = 600.0;
type Dot = (f64, f64);

/// A sheet of single dots and rows of dots, on the smallest paper.
fn made(studio: &Studio, seed: u32) -> Value {
    let single = json!({ "diameter_mm": 0.25, "count": 1, "grouping": "round_liner" });
    let but =
        json!({ "configuration": single, "effect": "pixelated", "paper": "a6", "seed": seed });
    studio.made(&studio.anna, "anna", &but)
}

fn path(sheet: &Value) -> String {
    format!("/v1/practice-sheets/{}", sheet["id"].as_str().expect("an id"))
}

fn printed(studio: &Studio, sheet: &Value) -> String {
    let asked = Request::get(path(sheet)).header("Accept", "image/svg+xml");
    let answer = studio.send(&studio.anna, &asked);
    assert_eq!(answer.status, 200, "{}", answer.text());
    answer.text()
}

/// The left upper corners of what is judged of each panel, off the print: its outline stands
/// 0.8 mm outside.
fn corners(svg: &str) -> Vec<Dot> {
    let number = |part: &str, name: &str| -> f64 {
        let (_, after) = part.split_once(&format!("{name}=\"")).expect("a number");
        after.split_once('"').expect("its end").0.parse().expect("a number")
    };
    let of = |part: &str| (number(part, " x") + 0.8, number(part, " y") + 0.8);
    svg.split(r#"<rect class="panel""#).skip(1).map(of).collect()
}

/// Every dot that the sheet asks for.
fn dots(sheet: &Value, svg: &str) -> Vec<Vec<Dot>> {
    let panels = sheet["drills"]["panels"].as_array().expect("panels");
    let of = |(panel, (left, top)): (&Value, Dot)| {
        let step = panel["step"].as_f64().expect("a step");
        let rows = if panel["drill"] == "single_dots" { vec![3.0] } else { vec![2.0, 5.0, 8.0] };
        let many = if panel["drill"] == "single_dots" { 20.0 } else { (20.0 / step).floor() + 1.0 };
        let width = panel["width_mm"].as_f64().expect("a width");
        let from = left + 0.5 * (width - step * (many - 1.0));
        let mut all = Vec::new();
        for y in rows {
            let mut at = 0.0;
            while at < many {
                all.push((from + step * at, top + y));
                at += 1.0;
            }
        }
        all
    };
    panels.iter().zip(corners(svg)).map(of).collect()
}

/// The width that a mark is to have.
fn mark_mm(sheet: &Value) -> f64 {
    let panels = sheet["drills"]["panels"].as_array().expect("panels");
    let mut targets = panels.iter().flat_map(|panel| panel["targets"].as_array().expect("targets"));
    let mark = targets.find(|target| target["quantity"] == "mark_mm").expect("a mark");
    mark["asked"].as_f64().expect("a width")
}

#[expect(clippy::cast_possible_truncation, reason = "some hundred millimetres")]
fn scan(svg: &str, dpi: f64, all: &[Vec<Dot>], mark: f64) -> String {
    // Dots by the millimetre, so that few are asked for each pixel.
    let mut near = std::collections::HashMap::new();
    for dot in all.iter().flatten() {
        for (i, j) in (-1..=1).flat_map(|i| (-1..=1).map(move |j| (i, j))) {
            let cell = (dot.0.floor() as i32 + i, dot.1.floor() as i32 + j);
            near.entry(cell).or_insert_with(Vec::new).push(*dot);
        }
    }
    scanned(svg, dpi, |(x, y)| {
        let dots = near.get(&(x.floor() as i32, y.floor() as i32));
        let apart = dots.into_iter().flatten().map(|dot| (dot.0 - x).hypot(dot.1 - y));
        let apart = apart.fold(f64::INFINITY, f64::min);
        // A scanner blurs an edge over some hundredths of a millimetre.
        1.0 / (1.0 + ((apart - 0.5 * mark) / 0.015).exp())
    })
}

fn hand_in(studio: &Studio, token: &str, sheet: &Value, body: &Value) -> Answer {
    studio.send(token, &Request::post(format!("{}/pictures", path(sheet)), body))
}

fn grade<'a>(entry: &'a Value, panel: usize, quantity: &str) -> &'a Value {
    let all = entry["panels"][panel]["quantities"].as_array().expect("quantities");
    all.iter().find(|one| one["quantity"] == quantity).expect("judged")
}

fn first_fault(answer: &Answer, case: &str) -> (String, String, String) {
    assert_eq!(answer.status, 422, "{case}: {}", answer.text());
    let fault = answer.json()["errors"][0].clone();
    let text = |name: &str| fault[name].as_str().expect("a text").to_owned();
    (text("pointer"), text("code"), text("message"))
}

/// Measured, graded, kept, marked: the first entry counts, and a later picture only lowers it.
#[test]
fn a_picture_is_measured_and_a_later_one_only_lowers_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let studio = Studio::at(Running::start_at(folder.path()));
    let sheet = made(&studio, 1);
    let svg = printed(&studio, &sheet);
    let (all, mark) = (dots(&sheet, &svg), mark_mm(&sheet));
    // Marks of a tenth of a millimetre are finer than this scan tells, so their width is typed.
    let mut typed = as_asked(&sheet, true);
    for panel in typed["panels"].as_array_mut().expect("panels") {
        let values = panel["values"].as_array_mut().expect("values");
        values.retain(|value| value["quantity"] == "mark_mm");
    }
    let good = json!({ "picture": scan(&svg, DPI, &all, mark), "panels": typed["panels"] });
    let keyed = Request::post(format!("{}/pictures", path(&sheet)), &good)
        .header("Idempotency-Key", "\"first\"");
    let answer = studio.send(&studio.anna, &keyed);
    assert_eq!(answer.status, 201, "{}", answer.text());
    assert!(answer.header("etag").is_some());
    let first = answer.json();
    assert!(first.get("repeats").is_none(), "{first}");
    let dpi = first["picture"]["dpi"].as_f64().expect("a scale");
    assert!((dpi - DPI).abs() < 1.0, "{first}");
    for (panel, dots) in all.iter().enumerate() {
        let count = grade(&first, panel, "count");
        assert_eq!(count["got"], json!(dots.len() as f64), "{panel}: {first}");
        let quantities = first["panels"][panel]["quantities"].as_array().expect("quantities");
        for one in quantities {
            assert_eq!(one["adequate"], true, "{panel}: {one}");
        }
        // Nobody has looked at depth, stretch and tears yet: a picture proposes.
        assert_eq!(first["panels"][panel]["adequate"], false, "{first}");
    }
    let again = studio.send(&studio.anna, &keyed);
    assert_eq!(again.header("idempotent-replayed"), Some("true"));
    assert_eq!(again.json(), first);
    let read = || studio.send(&studio.anna, &Request::get(path(&sheet))).json();
    assert_eq!((&read()["state"], read().get("again")), (&json!("handed_in"), None));
    assert_eq!(read()["handed_in"], first);
    let typed = Request::post(format!("{}/attempts", path(&sheet)), &as_asked(&sheet, true));
    assert_eq!(studio.send(&studio.anna, &typed).status, 409);
    // Taken anew, one dot of the second panel is not to be seen.
    let mut lost = all.clone();
    let gone = lost[1].remove(4);
    let answer =
        hand_in(&studio, &studio.anna, &sheet, &json!({ "picture": scan(&svg, DPI, &lost, mark) }));
    assert_eq!(answer.status, 201, "{}", answer.text());
    assert_eq!(answer.json()["repeats"], first["id"], "{}", answer.text());
    assert_eq!(read()["again"], json!([answer.json()]));
    assert_eq!(read()["handed_in"], first, "the first stands");
    // Where to look is kept with what was handed in.
    assert!(first.get("places").is_none(), "{first}");
    let later = answer.json();
    let [place] = &later["places"].as_array().expect("places")[..] else {
        panic!("{}", answer.text());
    };
    let off = |member: &str, own: f64| place[member].as_f64().expect("a place") - own;
    assert_eq!(place["what"], "skipped", "{place}");
    assert!(off("x_mm", gone.0).hypot(off("y_mm", gone.1)) < 0.1, "{place} and not {gone:?}");
    let marked = studio
        .send(&studio.berta, &Request::post(format!("{}/marks", path(&sheet)), &marks(&sheet)));
    assert_eq!(marked.status, 201, "{}", marked.text());
    for (panel, one) in marked.json()["panels"].as_array().expect("panels").iter().enumerate() {
        assert_eq!(one["adequate"], panel != 1, "{one}");
    }
    assert_eq!(hand_in(&studio, &studio.anna, &sheet, &good).status, 409, "after the marks");
    let dossier = studio.service.call(&Request::get("/v1/artists/anna/practice")).json();
    assert_eq!(dossier["sheets"][0]["again"][0]["repeats"], first["id"], "{dossier}");
    // It goes with her practice, and nothing that stood in the picture was ever written.
    let gone = studio.service.call(&Request::new("DELETE", "/v1/artists/anna/practice"));
    assert_eq!(gone.status, 200, "{}", gone.text());
    assert_eq!(studio.send(&studio.anna, &keyed).status, 410);
    studio.service.stop();
    let mut found = Vec::new();
    look(folder.path(), scans::COMMENT, &mut found);
    assert!(found.is_empty(), "{found:?}");
}

/// What was typed badly is no better for a flattering picture, and what nobody told at first
/// stays untold.
#[test]
fn a_picture_mends_nothing_that_was_handed_in() {
    let studio = Studio::start();
    let sheet = made(&studio, 1);
    let svg = printed(&studio, &sheet);
    let good = json!({ "picture": scan(&svg, DPI, &dots(&sheet, &svg), mark_mm(&sheet)) });
    let mut typed = as_asked(&sheet, true);
    typed["panels"][1]["values"][0]["got"] = json!(1);
    typed["panels"][2]["values"].as_array_mut().expect("values").remove(0);
    typed["panels"].as_array_mut().expect("panels").truncate(3);
    let attempt = Request::post(format!("{}/attempts", path(&sheet)), &typed);
    assert_eq!(studio.send(&studio.anna, &attempt).status, 201);
    let answer = hand_in(&studio, &studio.anna, &sheet, &good);
    assert_eq!(answer.status, 201, "{}", answer.text());
    let mut seen = marks(&sheet);
    seen["panels"].as_array_mut().expect("panels").truncate(3);
    let request = Request::post(format!("{}/marks", path(&sheet)), &seen);
    let marked = studio.send(&studio.berta, &request);
    assert_eq!(marked.status, 201, "{}", marked.text());
    let panels = marked.json()["panels"].as_array().expect("panels").clone();
    let adequate: Vec<bool> = panels.iter().map(|one| one["adequate"] == true).collect();
    assert_eq!(adequate, [true, false, false], "{panels:?}");
}

/// Only a picture of the very sheet, by her, in time; and nothing is typed over it.
#[test]
fn another_picture_is_refused_with_its_reason() {
    let studio = Studio::start();
    let sheet = made(&studio, 1);
    let other = made(&studio, 1);
    let (svg, wrong) = (printed(&studio, &sheet), printed(&studio, &other));
    let all = dots(&sheet, &svg);
    let of = |svg: &str| scan(svg, 300.0, &all, mark_mm(&sheet));
    let good = of(&svg);
    let unnumbered =
        Request::post("/v1/drills", &sheet["request"]).header("Accept", "image/svg+xml");
    let unnumbered = studio.service.call(&unnumbered).text();
    let smeared = svg.replacen(r#"class="code""#, r#"class="code" opacity="0""#, 1);
    let mut larger = sheet["request"].clone();
    larger["paper"] = "a5".into();
    let larger = Request::post("/v1/drills", &larger).header("Accept", "image/svg+xml");
    let larger = studio.service.call(&larger).text();
    let bare = svg.replace(r#"class="mark""#, r#"class="mark" opacity="0""#);
    let panel = |panel: u8, values: Value| json!({ "picture": good, "panels": [{ "panel": panel, "values": values }] });
    let count = json!([{ "quantity": "count", "got": 20 }]);
    for (case, body, pointer, code, word) in [
        (
            "another sheet",
            json!({ "picture": of(&wrong) }),
            "#/picture",
            "contradiction",
            "another",
        ),
        ("no number", json!({ "picture": of(&unnumbered) }), "#/picture", "missing", "code"),
        ("a smeared code", json!({ "picture": of(&smeared) }), "#/picture", "missing", "code"),
        (
            "another paper",
            json!({ "picture": of(&larger) }),
            "#/picture",
            "not_allowed",
            "wrong_size",
        ),
        ("no marks", json!({ "picture": of(&bare) }), "#/picture", "not_allowed", "marks_missing"),
        ("no picture", json!({ "picture": "aGVsbG8gd29ybGQ=" }), "#/picture", "not_allowed", ""),
        (
            "typed over it",
            panel(1, count.clone()),
            "#/panels/0/values/0/quantity",
            "contradiction",
            "count",
        ),
        ("no such panel", panel(90, count), "#/panels/0/panel", "out_of_range", "90"),
    ] {
        let answer = hand_in(&studio, &studio.anna, &sheet, &body);
        let (at, found, message) = first_fault(&answer, case);
        assert_eq!((at.as_str(), found.as_str()), (pointer, code), "{case}: {message}");
        assert!(message.contains(word), "{case}: {message}");
    }
    let good = json!({ "picture": good });
    assert_eq!(hand_in(&studio, &studio.dora, &sheet, &good).status, 404, "another student");
    let by_berta = hand_in(&studio, &studio.berta, &sheet, &good);
    assert_eq!(first_fault(&by_berta, "a trainer's own token").0, "#");
    let state = studio.send(&studio.anna, &Request::get(path(&sheet))).json()["state"].clone();
    assert_eq!(state, "open", "nothing was kept of any of them");
    studio.service.set_clock("2027-03-24T09:00:00Z");
    assert_eq!(hand_in(&studio, &studio.anna, &sheet, &good).status, 409, "too late");
}

/// Two whole pages of 35 megapixels at once, in a process of its own: who asks something small
/// meanwhile waits for neither, and what they take in memory is bounded. Figures are printed.
#[test]
fn two_whole_pages_at_once_hold_nobody_up() {
    let folder = tempfile::tempdir().expect("a folder");
    let service = Child::spawn(env!("CARGO_BIN_EXE_etui_under_test"), folder.path());
    let drills = json!({
        "configuration": { "diameter_mm": 0.3, "count": 3, "grouping": "round_shader" },
        "effect": "soft_shading", "site": "brow", "level": "working", "seed": 3,
    });
    let sheet = Request::post("/v1/drills", &drills).header("Accept", "image/svg+xml");
    let picture = scanned(&service.call(&sheet).text(), DPI, |_| 0.0);
    let read =
        Request::post("/v1/sheet-readings", &json!({ "drills": drills, "picture": picture }));
    let label = json!({ "labels": [{ "text": "0.30 mm 3RL LOT B4412 EXP 2029-06" }] });
    let label = Request::post("/v1/label-readings", &label);
    assert_eq!(service.call(&label).status, 200);
    let idle_mb = megabytes(service.id());
    let alone = Instant::now();
    let answer = service.call(&read);
    assert_eq!(answer.status, 200, "{}", answer.text());
    assert_eq!(answer.json()["cannot"], json!([]), "{}", answer.text());
    let (alone, one_mb) = (alone.elapsed(), megabytes(service.id()));
    let (mut longest, mut asked) = (Duration::ZERO, 0);
    let both = std::thread::scope(|scope| {
        let begun = Instant::now();
        let pages = [0, 1].map(|_| scope.spawn(|| assert_eq!(service.call(&read).status, 200)));
        while pages.iter().any(|page| !page.is_finished()) {
            let at = Instant::now();
            assert_eq!(service.call(&label).status, 200);
            longest = longest.max(at.elapsed());
            asked += 1;
        }
        begun.elapsed()
    });
    let two_mb = megabytes(service.id());
    println!(
        "A4 at {DPI} dpi: alone {alone:?}, {} MB above idle ({idle_mb}); two at once {both:?}, {} MB; \
         a label meanwhile at most {longest:?} of {asked}",
        one_mb - idle_mb,
        two_mb - idle_mb
    );
    assert!(10 < asked && 4 * longest < both, "{longest:?} of {both:?}, {asked} asked");
    assert!(two_mb - idle_mb < 500, "{two_mb} MB");
}

/// The most that a process ever held.
fn megabytes(process: u32) -> i64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap_or_default();
    line.split_whitespace().next().and_then(|kb| kb.parse::<i64>().ok()).unwrap_or(0) / 1024
}
