//! Configurations over HTTP: side by side, drawn, as patterns.

use etui_schema::configuration_comparisons::ConfigurationComparison;
use etui_schema::problem::{ErrorCode, FaultCode};
use etui_schema::puncture_patterns::PuncturePattern;
use etui_tests::running::{Running, with_token};
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

const COMPARISONS: &str = "/v1/configuration-comparisons";
const PATTERNS: &str = "/v1/puncture-patterns";

fn post(target: &str, body: &Value) -> Answer {
    let running = Running::shared();
    running.call(&with_token(&Request::post(target, body), running.token()))
}

fn get(target: &str) -> Answer {
    let running = Running::shared();
    running.call(&with_token(&Request::get(target), running.token()))
}

fn compare(labels: &[&str], setting: &Value) -> ConfigurationComparison {
    let configurations: Vec<Value> = labels.iter().map(|l| json!({ "label": l })).collect();
    let body = json!({ "configurations": configurations, "setting": setting });
    let answer = post(COMPARISONS, &body);
    assert_eq!(answer.status, 200, "{}", answer.text());
    answer.read()
}

#[track_caller]
fn near(found: f64, want: f64, tolerance: f64) {
    assert!((found - want).abs() <= tolerance, "{found} instead of {want}");
}

/// Crank and cone are exact; the density is the arithmetic of travel.
#[test]
fn measures_follow_from_the_setting() {
    let setting = json!({
        "machine": { "stroke_mm": 3.0, "rate_hz": 100.0, "give": "medium" },
        "hand": "medium", "site": "brow", "depth_mm": 1.0, "hand_speed_mm_s": 10.0, "passes": 1,
    });
    let found = compare(&["0.30 3RL", "0.30 7RL"], &setting);
    let measures = &found.compared[0].measures;
    near(measures.tip_speed_mm_s, 942.4778, 1e-3);
    near(measures.dwell_ms, 3.918, 1e-3);
    near(measures.punctures_per_mm2, 46.41, 5e-3);
    let by_hand = 1.0 - (-measures.punctures_per_mm2 * measures.hole_area_mm2).exp();
    near(measures.coverage, by_hand, 1e-7);
    near(found.compared[1].measures.band_width_mm, 0.9, 1e-6);
    let left: Vec<&str> = found.setting.assumed.iter().map(String::as_str).collect();
    assert!(left.iter().all(|pointer| pointer.starts_with("/skin/")), "{left:?}");
}

/// Common practice, no source: the order of pressure under one hand.
#[test]
fn pressure_is_ordered_as_the_trade_knows_it() {
    let labels = ["0.30 7M1", "0.30 3RS", "0.30 3RL", "0.30 1RL", "0.20 1RL"];
    let found = compare(&labels, &json!({}));
    let want: Vec<&str> = labels.into_iter().rev().collect();
    assert_eq!(found.order.by_pressure, want);
    assert!(found.setting.assumed.contains(&"/machine/stroke_mm".to_owned()));
    assert!(!found.basis.is_empty() && !found.parameters.is_empty());
}

#[test]
fn the_same_compared_with_itself_is_one_everywhere() {
    let found = compare(&["0.25 5RS LT", "0.25 5RS LT"], &json!({ "site": "lip" }));
    for one in &found.compared {
        let relative = serde_json::to_value(&one.relative).expect("JSON");
        for (name, value) in relative.as_object().expect("an object") {
            assert_eq!(value.as_f64(), Some(1.0), "{name}");
        }
    }
}

/// Hwang et al. 2006, J Craniofac Surg 17:54: 320 ± 49 µm at the lash margin.
#[test]
fn too_deep_for_the_lash_line_and_too_long_a_stroke_are_warned_of() {
    let setting = json!({
        "site": "lash_line", "depth_mm": 0.5, "machine": { "stroke_mm": 3.5 },
    });
    let found = compare(&["0.25 1RL"], &setting);
    let codes: Vec<&str> = found.compared[0].cautions.iter().map(|c| c.code.as_str()).collect();
    assert!(codes.starts_with(&["through_skin", "long_stroke_on_lid"]), "{codes:?}");
}

#[test]
fn a_parameter_can_be_set_inside_its_range() {
    let body = |value: f64| {
        json!({
            "configurations": [{ "label": "0.30 3RS" }],
            "parameters": { "spread_round_shader": value },
        })
    };
    let wide: ConfigurationComparison = post(COMPARISONS, &body(2.0)).read();
    let usual = compare(&["0.30 3RS"], &json!({}));
    let width = |found: &ConfigurationComparison| found.compared[0].measures.band_width_mm;
    assert!(width(&usual) < width(&wide));
    let set = wide.parameters.iter().find(|p| p.name == "spread_round_shader");
    assert_eq!(set.map(|p| p.assumed), Some(false));
    let refused = post(COMPARISONS, &body(9.0)).problem();
    assert_eq!(refused.errors[0].pointer, "#/parameters/spread_round_shader");
}

#[test]
fn every_configuration_that_is_not_read_is_named() {
    let body = json!({
        "configurations": [
            { "label": "nonsense" },
            { "diameter_mm": 0.3, "count": 3 },
            { "label": "0.30 3RL", "count": 3 },
            { "label": "103RL" },
            { "label": "1003RL" },
        ],
        "parameters": { "nobody": 1.0 },
    });
    let problem = post(COMPARISONS, &body).problem();
    assert_eq!(problem.code, ErrorCode::InvalidValue);
    let found: Vec<(&str, FaultCode)> =
        problem.errors.iter().filter_map(|f| Some((f.pointer.as_str(), f.code.known()?))).collect();
    let want = [
        ("#/configurations/0/label", FaultCode::WrongFormat),
        ("#/configurations/1/grouping", FaultCode::Missing),
        ("#/configurations/2", FaultCode::Contradiction),
        ("#/configurations/3/label", FaultCode::WrongFormat),
        ("#/parameters/nobody", FaultCode::UnknownValue),
    ];
    assert_eq!(found, want);
    for count in [0, 25] {
        let many = vec![json!({ "label": "0.30 3RL" }); count];
        let answer = post(COMPARISONS, &json!({ "configurations": many }));
        assert_eq!(answer.status, 422, "{count}");
    }
}

#[test]
fn drawings_come_as_svg_and_as_png() {
    let target = "/v1/configuration-drawings?label=0.20+1RL&label=0.30+7M1";
    let svg = get(&format!("{target}&format=svg&width=600"));
    assert_eq!((svg.status, svg.media()), (200, "image/svg+xml"));
    let text = svg.text();
    for part in ["<title", "<desc", "width=\"600\"", "0.20 1RL", "0.30 7M1", " mm</text>"] {
        assert!(text.contains(part), "no {part}");
    }
    assert_eq!(text.matches("class=\"shaft\"").count(), 8);
    let png = get(&format!("{target}&format=png"));
    assert_eq!((png.status, png.media()), (200, "image/png"));
    assert_eq!(png.body[..8], *b"\x89PNG\r\n\x1a\n");
    let side = get("/v1/configuration-drawings?label=0.30+3RL&view=side&site=lip&depth_mm=0.6");
    assert_eq!(side.status, 200);
    assert!(side.text().contains("0.60 mm"), "the depth is written at its ruler");
    // Of an old skin the layers are thinner, and the width asked for is the picture's.
    let two = "/v1/configuration-drawings?label=0.30+3RL&label=0.30+5RL&view=side&width=2400";
    let young = get(&format!("{two}&age_years=30"));
    assert!(young.text().contains("width=\"2400\""), "{}", young.text());
    let old = get(&format!("{two}&age_years=80&thickness=fine"));
    assert_eq!((young.status, old.status), (200, 200));
    assert_ne!(young.body, old.body);
    for (bad, status) in [
        ("/v1/configuration-drawings", 400),
        ("/v1/configuration-drawings?label=0.30+3RL&format=gif", 400),
        ("/v1/configuration-drawings?label=0.30+3RL&width=10", 400),
        ("/v1/configuration-drawings?label=0.30+3RL&colour=red", 400),
        ("/v1/configuration-drawings?label=nonsense", 400),
        ("/v1/configuration-drawings?label=0.30+3RL&label=0.30+5RL&label=0.2+1RL&view=side", 400),
        ("/v1/configuration-drawings?label=0.30+3RL&age_years=60", 400),
        ("/v1/configuration-drawings?label=0.30+3RL&view=side&age_years=121", 400),
        ("/v1/configuration-drawings?label=0.30+3RL&site=lip", 400),
        ("/v1/configuration-drawings?label=0.30+3RL&view=side&depth_mm=9", 400),
        ("/v1/configuration-drawings?label=0.30+3RL&view=above", 400),
        ("/v1/configuration-drawings?label=0.30+3RL&view=passes", 400),
        ("/v1/configuration-drawings?label=0.30+3RL&view=passes&effect=scalp_dots", 400),
        ("/v1/configuration-drawings?label=0.30+3RL&view=passes&effect=fine_line&passes=7", 400),
        (
            "/v1/configuration-drawings?label=0.30+3RL&view=passes&effect=fine_line&age_years=50",
            400,
        ),
        ("/v1/configuration-drawings?label=0.30+3RL&effect=fine_line", 400),
    ] {
        assert_eq!(get(bad).status, status, "{bad}");
    }
}

#[test]
fn a_pattern_is_the_same_for_the_same_seed() {
    let body = |seed: u64| {
        json!({
            "configuration": { "label": "0.30 3RL" },
            "setting": { "machine": { "rate_hz": 100.0 }, "hand_speed_mm_s": 10.0 },
            "path": { "length_mm": 20.0 }, "seed": seed,
        })
    };
    let first = post(PATTERNS, &body(1));
    assert_eq!(first.status, 200, "{}", first.text());
    assert_eq!(first.body, post(PATTERNS, &body(1)).body);
    assert_ne!(first.body, post(PATTERNS, &body(2)).body);
    let found: PuncturePattern = first.read();
    near(found.spacing.strokes_mm.unwrap_or_default() / 0.1, 1.0, 0.01);
    near(
        found.coverage.expected,
        1.0 - (-found.punctures_per_mm2 * found.dot_area_mm2).exp(),
        1e-7,
    );
    for media in ["image/svg+xml", "image/png"] {
        let running = Running::shared();
        let asked = Request::post(PATTERNS, &body(1)).header("Accept", media);
        let picture = running.call(&with_token(&asked, running.token()));
        assert_eq!((picture.status, picture.media()), (200, media));
    }
}

/// Boolean model: 1 − exp(−λa), within 3 standard errors over the seeds.
#[test]
fn an_area_is_covered_as_expected_on_average() {
    let off: Vec<f64> = (0..40)
        .map(|seed| {
            let body = json!({
                "configuration": { "label": "0.30 5RS" },
                "setting": { "hand_speed_mm_s": 20.0 },
                "area": { "width_mm": 4.0, "height_mm": 4.0 }, "passes": 3, "seed": seed,
            });
            let found: PuncturePattern = post(PATTERNS, &body).read();
            found.coverage.simulated - found.coverage.expected
        })
        .collect();
    let mean = off.iter().sum::<f64>() / 40.0;
    let variance = off.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 39.0;
    assert!(mean.abs() <= 3.0 * (variance / 40.0).sqrt(), "off by {mean}");
}

#[test]
fn a_pattern_needs_a_ground_and_bounds() {
    for (more, pointer) in [
        (json!({}), "#"),
        (
            json!({ "path": { "length_mm": 5.0 }, "area": { "width_mm": 1.0, "height_mm": 1.0 } }),
            "#/area",
        ),
        (json!({ "path": { "length_mm": 60.0, "bend_degrees": 10.0 } }), "#/path/length_mm"),
        (json!({ "area": { "width_mm": 50.0, "height_mm": 50.0 }, "passes": 50 }), "#/area"),
    ] {
        let mut body = json!({ "configuration": { "label": "0.30 3RL" } });
        for (name, value) in more.as_object().expect("an object") {
            body[name] = value.clone();
        }
        let problem = post(PATTERNS, &body).problem();
        assert_eq!((problem.status, problem.errors[0].pointer.as_str()), (422, pointer), "{more}");
    }
}
