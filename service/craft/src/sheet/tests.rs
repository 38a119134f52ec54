//! Short views and pages of checks that no program made, against what a reader
//! must find in them.

use etui_schema::appointment_checks::{AppointmentCheck, TodoItem, Who};
use etui_schema::sheets::SheetFor;
use etui_schema::skin_assessments::Finding;
use etui_schema::vocabulary::{CivilDate, Language, Verdict};
use proptest::prelude::*;
use serde_json::{Value, json};

use super::{CLIENT_MAX, NEEDLES_MAX, Sheets};
use crate::configuration::Model;
use crate::text::tests::literals::said_by_code;

mod laws;

/// A check as it goes over the wire, with this to do.
fn check(language: Language, verdict: Verdict, todo: Vec<TodoItem>) -> AppointmentCheck {
    let needle = |canonical: &str, count: u8| {
        json!({
            "canonical": canonical,
            "configuration": { "diameter_mm": 0.3, "count": count, "grouping": "round_liner" },
            "desirability": 0.9,
            "answers": [{ "question": "effect", "desirability": 0.9, "because": "A fine hair." }],
            "cautions": ["Not too deep."], "remarks": [],
            "lots": [{ "lot_id": "01a44d59-e000-75eb-9164-054d7c19fb46" }],
        })
    };
    let needles: Vec<Value> = ["0.30 1RL", "0.30 2RL", "0.30 3RL", "0.30 5RL"]
        .iter()
        .zip([1, 2, 3, 5])
        .map(|(c, n)| needle(c, n))
        .collect();
    let at = "2027-04-06T08:00:00Z";
    let window = json!({ "from": "2027-05-04", "until": "2027-05-20", "basis": [] });
    let value = json!({
        "id": "01a44d59-e000-7816-ac03-a6f2047f33fd", "made_at": "2027-03-16T08:00:00Z",
        "booking_ref": "booking-1", "client_ref": "client-1", "treatment": "brows",
        "effect": "hair_strokes", "starts_at": at, "zone": "Europe/Berlin", "on": "2027-04-06",
        "language": language, "verdict": verdict, "summary": "So it is.", "findings": [],
        "unanswered": [],
        "score": {
            "points": 0, "range": { "min": 0, "max": 0 }, "advice": [], "contributions": [],
            "evidence_share": [], "statement": "",
            "evidence": { "field": "points", "kind": "model", "confidence": "low", "sources": [] },
        },
        "rulebook": { "name": "r", "revision": 1, "digest": "0", "packs": [] },
        "needles": {
            "ranked": needles, "set_aside": [], "step_up": [], "would_change": [],
            "differing_views": [], "hints": [], "assumed": [], "basis": [],
        },
        "readiness": [], "todo": todo,
        "aftercare": {
            "treatment": "brows", "performed_at": at, "performed_on": "2027-04-06",
            "zone": "Europe/Berlin", "revision": 1, "steps": [],
            "milestones": {
                "healed": window, "review_window": window, "touch_up_earliest": "2027-05-04",
                "touch_up_window": window, "touch_up_usual": window, "colour_refresh": window,
                "donation_date": "2027-08-01", "donation_basis": [],
            },
            "healing": [], "cautions": [], "assumed": [],
        },
        "cautions": ["No medical advice."],
    });
    serde_json::from_value(value).unwrap()
}

fn item(n: usize, who: Who, due: Option<&str>) -> TodoItem {
    TodoItem {
        key: format!("task.{n}"),
        text: format!("Task number {n}."),
        who: who.into(),
        due: due.map(|day| CivilDate(day.parse().unwrap())),
        late: false,
        from: "rule".to_owned(),
    }
}

fn finding(rule: &str, verdict: Verdict, because: &str, condition: &str) -> Finding {
    serde_json::from_value(json!({
        "rule": rule, "verdict": verdict, "because": because,
        "condition": condition, "waits_for_event": false, "law": false, "evidence": [],
    }))
    .unwrap()
}

fn question(n: usize) -> TodoItem {
    TodoItem { key: format!("answer.q{n}"), ..item(n, Who::Client, None) }
}

#[test]
fn a_summary_has_few_lines_and_says_what_it_has_no_room_for() {
    let sheets = Sheets::builtin().unwrap();
    let tasks: Vec<TodoItem> = (0..6).map(|n| item(n, Who::Client, Some("2027-04-04"))).collect();
    let told = sheets.summary(&check(Language::En, Verdict::ProceedWithConditions, tasks));
    assert_eq!(told.client.len(), CLIENT_MAX);
    assert_eq!(told.client[0], "Task number 0 (by 4 April 2027).");
    assert!(told.client[3].starts_with("3 more points"), "{:?}", told.client);
    assert_eq!(told.needles.len(), NEEDLES_MAX);
    // What is to be minded with each of them alike is said once.
    assert_eq!(
        (&*told.needles[0].line, told.mind.last().map(String::as_str)),
        ("A fine hair.", Some("Not too deep."))
    );
    let studios = TodoItem { who: Who::Studio.into(), ..question(4) };
    let open = vec![question(1), question(2), item(3, Who::Studio, None), studios];
    let told = sheets.summary(&check(Language::De, Verdict::Incomplete, open));
    assert_eq!(
        told.client,
        ["2 Fragen sind noch offen; bitte beantworten Sie sie vor dem Termin."]
    );
    assert_eq!(told.studio.len(), 2, "what the studio is asked is among its tasks");
    let one = sheets.summary(&check(Language::En, Verdict::Incomplete, vec![question(1)]));
    assert!(one.client[0].starts_with("One question is"), "{:?}", one.client);
}

/// No rank is left out, whatever kind it is of.
#[test]
fn the_first_ranks_are_named_in_their_order() {
    let sheets = Sheets::builtin().unwrap();
    let mut one = check(Language::En, Verdict::Proceed, Vec::new());
    let needles = one.needles.as_mut().unwrap();
    let mut twin = needles.ranked[0].clone();
    twin.canonical = "0.25 1RL".to_owned();
    twin.configuration.diameter_mm = Some(0.25);
    needles.ranked.insert(1, twin);
    let named: Vec<String> =
        sheets.summary(&one).needles.into_iter().map(|needle| needle.canonical).collect();
    assert_eq!(named, ["0.30 1RL", "0.25 1RL", "0.30 2RL"]);
}

#[test]
fn what_is_said_three_times_is_told_once() {
    let sheets = Sheets::builtin().unwrap();
    let same = |n| TodoItem { text: "Ask your doctor.".to_owned(), ..item(n, Who::Client, None) };
    let told =
        sheets.summary(&check(Language::En, Verdict::Refer, vec![same(1), same(2), same(3)]));
    assert_eq!(told.client, ["Ask your doctor."]);
}

#[test]
fn no_needle_is_printed_for_a_visit_that_does_not_come() {
    let (sheets, model) = (Sheets::builtin().unwrap(), Model::builtin().unwrap());
    for verdict in Verdict::ALL {
        let page =
            sheets.visit(&check(Language::En, *verdict, Vec::new()), SheetFor::Studio, &model);
        let comes = !matches!(verdict, Verdict::Hold | Verdict::Refer | Verdict::Decline);
        assert_eq!(page.contains("0.30 1RL"), comes, "{verdict}: {page}");
        // Drawn with it, and nothing is loaded for that.
        assert_eq!(page.contains("<svg "), comes, "{verdict}");
        assert!(!page.contains("http"), "{page}");
    }
}

/// What a pack adds stands on the sheet, sent as a message or not; a built-in message
/// bundles what stands there already.
#[test]
fn the_aftercare_sheet_leaves_out_no_step_of_a_pack() {
    let sheets = Sheets::builtin().unwrap();
    let mut plan = check(Language::En, Verdict::Proceed, Vec::new()).aftercare;
    let kinds = ["do", "avoid", "tell", "check"];
    let step = |kind: &str, message: bool, pack: Option<&str>| {
        let at = "2027-04-07T08:00:00Z";
        let key = format!("{kind} {message} {}", pack.unwrap_or("built in"));
        let mut step = json!({
            "text": format!("Says {key}."), "key": key, "kind": kind, "from_day": 1, "to_day": 7,
            "spread_days": 0, "message": message, "at": at, "local": at, "latest": at, "basis": [],
        });
        if let Some(pack) = pack {
            step["pack"] = pack.into();
        }
        serde_json::from_value(step).unwrap()
    };
    for message in [true, false] {
        plan.steps.extend(kinds.map(|kind| step(kind, message, Some("house"))));
    }
    plan.steps.push(step("avoid", true, None));
    let page = sheets.aftercare(Language::En, &plan);
    for step in &plan.steps {
        let stands = page.matches(&step.text).count();
        assert_eq!(stands, usize::from(step.pack.is_some()), "{}: {page}", step.key);
    }
}

/// A sheet is read from top to bottom: what ends first and what comes first stands first, each with
/// one day before it, and a date that is only announced stands among the dates alone.
#[test]
fn the_aftercare_sheet_goes_by_its_dates() {
    let sheets = Sheets::builtin().unwrap();
    let mut plan = check(Language::En, Verdict::Proceed, Vec::new()).aftercare;
    let step = |key: &str, kind: &str, from: i32, to: i32| {
        let at = "2027-04-07T08:00:00Z";
        serde_json::from_value(json!({
            "text": format!("Says {key}."), "key": key, "kind": kind, "from_day": from,
            "to_day": to, "spread_days": 0, "message": kind == "check", "at": at, "local": at,
            "latest": at, "basis": [],
        }))
        .unwrap()
    };
    plan.steps = vec![
        step("long", "avoid", 0, 28),
        step("short", "avoid", 0, 2),
        step("late", "check", 14, 49),
        step("early", "tell", 7, 10),
        step("review_invite", "check", 21, 28),
        step("next_session", "check", 10, 14),
    ];
    let window = json!({ "from": "2027-04-16", "until": "2027-04-20", "basis": [] });
    plan.milestones.next_session = Some(serde_json::from_value(window).unwrap());
    let text = read(&sheets.aftercare(Language::En, &plan));
    let lines = [
        "Until 8 April 2027: Says short.",
        "Until 4 May 2027: Says long.",
        "13 April 2027: Says early.",
        "20 April 2027: Says late.",
        "16 April 2027 – 20 April 2027 Next session",
        "4 May 2027 – 20 May 2027",
    ];
    let places: Vec<_> = lines.iter().map(|line| text.find(line)).collect();
    assert!(places.iter().all(Option::is_some) && places.is_sorted(), "{places:?}: {text}");
    assert!(!text.contains("Says review_invite") && !text.contains("Says next_session"), "{text}");
    assert!(!text.contains("From 13 April"), "{text}");
}

/// On the studio's page the client's sentences stand where it says that she is told them.
#[test]
fn the_studio_is_not_addressed_as_if_it_were_the_client() {
    let (sheets, model) = (Sheets::builtin().unwrap(), Model::builtin().unwrap());
    let due = item(1, Who::Studio, None);
    let mut one = check(Language::En, Verdict::ProceedWithConditions, vec![due]);
    one.findings = vec![
        finding("rule", Verdict::ProceedWithConditions, "You react.", "Do it today."),
        finding("note", Verdict::Proceed, "It is so.", "Nothing changes."),
        finding("other", Verdict::ProceedWithConditions, "You react.", "Do it then."),
    ];
    let page = read(&sheets.visit(&one, SheetFor::Studio, &model));
    let place = |said: &str| page.find(said).unwrap_or_else(|| panic!("{said}: {page}"));
    assert!(place("as the client is told") < place(&one.summary), "it is worded for the client");
    assert!(place("as the client is told") < place("You react."));
    assert!(!page.contains("Do it today."), "{page}");
    assert_eq!(page.matches("You react.").count(), 1, "one reason of two rules: {page}");
    assert!(place("Nothing changes.") < place("Task number 1."));
    assert!(place("What the client is told") < place("No medical advice."));
    let day = [(sheets.summary(&one), jiff::tz::TimeZone::UTC)];
    let page = read(&sheets.day(Language::En, one.on.0, &day, 0));
    let place = |said: &str| page.find(said).unwrap_or_else(|| panic!("{said}: {page}"));
    assert!(place("What the client is told") < place(&one.summary), "{page}");
}

/// Why, and what is only told, stands on her page and in her few lines: a refusal with
/// its reason first and not as an errand, a note last.
#[test]
fn the_client_reads_why_and_what_is_only_told() {
    let (sheets, model) = (Sheets::builtin().unwrap(), Model::builtin().unwrap());
    let errand = || item(1, Who::Client, None);
    let way_out = || TodoItem { text: "Age: come in two years.".to_owned(), ..errand() };
    let short = |finding, short: &str| Finding { short: Some(short.to_owned()), ..finding };
    let refusal = finding("rule", Verdict::Decline, "You are 16.", "Come in two years.");
    let refusal = short(refusal, "Age: Come in two years.");
    let note = finding("scan", Verdict::Proceed, "A scan can tingle.", "Tell them.");
    let note = short(note, "Scan: Tell them.");
    let met = finding("rule", Verdict::ProceedWithConditions, "Acids irritate.", "Leave them.");
    let cases = [
        (Verdict::Decline, refusal.clone(), way_out(), vec!["Age: Come in two years."]),
        (Verdict::Proceed, note.clone(), errand(), vec!["Task number 1.", "Scan: Tell them."]),
        (Verdict::ProceedWithConditions, met.clone(), errand(), vec!["Task number 1."]),
    ];
    for (verdict, finding, task, lines) in cases {
        let mut one = check(Language::En, verdict, vec![task]);
        one.findings = vec![finding.clone()];
        assert_eq!(sheets.summary(&one).client, lines, "{verdict}");
        let page = read(&sheets.visit(&one, SheetFor::Client, &model));
        assert!(page.contains(&finding.because), "{verdict}: {page}");
        let whole = format!("{} {}", finding.because, finding.condition.unwrap_or_default());
        let is_whole = verdict != Verdict::ProceedWithConditions;
        assert_eq!(page.contains(&whole), is_whole, "{verdict}: {page}");
        let errands = page.contains("Please do before you come");
        assert_eq!(errands, verdict != Verdict::Decline, "{page}");
    }
}

/// What is for the day of the visit needs no day behind it, what names its days neither,
/// on the page of one check or of a whole day; late is late, and is said once.
#[test]
fn a_day_stands_behind_an_errand_where_it_tells_something() {
    let (sheets, model) = (Sheets::builtin().unwrap(), Model::builtin().unwrap());
    let named = |n| TodoItem {
        text: "Skin test on 2 April 2027.".to_owned(),
        ..item(n, Who::Studio, Some("2027-04-05"))
    };
    let cases = [
        (item(1, Who::Studio, Some("2027-04-06")), None),
        (item(2, Who::Studio, Some("2027-04-05")), Some("Please do this by 5 April 2027.")),
        (
            TodoItem { late: true, ..item(3, Who::Studio, Some("2027-04-06")) },
            Some("This was due by 6 April 2027."),
        ),
        (named(4), None),
        (TodoItem { late: true, ..named(5) }, Some("This was due by 5 April 2027.")),
        (
            TodoItem {
                late: true,
                due: Some(CivilDate("2027-04-02".parse().unwrap())),
                ..named(6)
            },
            None,
        ),
    ];
    for (item, behind) in cases {
        let one = check(Language::En, Verdict::ProceedWithConditions, vec![item.clone()]);
        let checks = [(sheets.summary(&one), jiff::tz::TimeZone::UTC)];
        let day = sheets.day(Language::En, one.on.0, &checks, 0);
        for page in [sheets.visit(&one, SheetFor::Studio, &model), day] {
            let line = match behind {
                Some(behind) => format!("\n{} {behind}\n", item.text),
                None => format!("\n{}\n", item.text),
            };
            assert!(read(&page).contains(&line), "{line:?}: {page}");
        }
    }
}

/// A day before a medicine that goes on could be read as its end: the day is that of the
/// answer alone, and stands behind all of it.
#[test]
fn no_day_stands_before_a_medicine_that_goes_on() {
    let (sheets, model) = (Sheets::builtin().unwrap(), Model::builtin().unwrap());
    let keep = "Blood thinner: If you take a blood thinner now, keep taking it as prescribed.";
    let asked = TodoItem {
        key: "written_view.warfarin".to_owned(),
        text: keep.to_owned(),
        ..item(0, Who::Client, Some("2027-03-23"))
    };
    for (language, late, want, short) in [
        (
            Language::En,
            false,
            "We need the answer by 23 March 2027.",
            "answer needed by 23 March 2027",
        ),
        (
            Language::De,
            false,
            "Die Antwort brauchen wir bis zum 23. März 2027.",
            "Antwort nötig bis zum 23. März 2027",
        ),
        (
            Language::En,
            true,
            "This was due by 23 March 2027.",
            "overdue since 23 March 2027: ask today",
        ),
        (
            Language::De,
            true,
            "Das war bis zum 23. März 2027 fällig.",
            "überfällig seit dem 23. März 2027: heute fragen",
        ),
    ] {
        let todo = vec![TodoItem { late, ..asked.clone() }];
        let one = check(language, Verdict::ProceedWithConditions, todo);
        let line = format!("{keep} {want}");
        let short = format!("{} ({short}).", keep.trim_end_matches('.'));
        assert_eq!(sheets.summary(&one).client, [short]);
        for audience in [SheetFor::Client, SheetFor::Studio] {
            let page = read(&sheets.visit(&one, audience, &model));
            assert!(page.contains(&format!("\n{line}\n")), "{page}");
        }
    }
}

/// What a visit waits for is said in its line and not in the outcome, too; what is to be
/// minded with a needle stands with each, and why several fit is said once.
#[test]
fn the_short_view_says_nothing_twice() {
    let sheets = Sheets::builtin().unwrap();
    let mut one = check(Language::En, Verdict::Hold, Vec::new());
    let waits = finding("antibiotics", Verdict::Hold, "An infection.", "Take them. We wait.");
    one.findings = vec![Finding { short: Some("Antibiotics: We wait.".to_owned()), ..waits }];
    one.summary = "Not yet. Take them. We wait.".to_owned();
    let told = sheets.summary(&one);
    assert_eq!(
        (&*told.says, &*told.client),
        ("Not yet: it is better to wait.", &["Antibiotics: We wait.".to_owned()][..])
    );
    assert_eq!(told.says_studio, "Not now: Antibiotics.");
    // What is to be moved for several reasons is moved once, and what else is asked of it stays.
    let moved = |rule: &str, says: &str| TodoItem {
        key: format!("rebook.{rule}"),
        text: format!("{rule}: Please move the visit. Tell the client: {says}"),
        from: rule.to_owned(),
        ..item(0, Who::Studio, Some("2027-05-01"))
    };
    let hold = |rule: &str| finding(rule, Verdict::Hold, "Why.", "A visit is possible then.");
    let of = ["Tan", "Peel", "Report"];
    one.findings = of.map(hold).to_vec();
    one.todo = vec![
        moved(of[0], "A visit is possible then."),
        moved(of[1], "A visit is possible then."),
        moved(of[2], "A visit is possible then. Look at it."),
    ];
    let studio: Vec<_> = sheets.summary(&one).studio.into_iter().map(|it| it.text).collect();
    assert_eq!(
        studio,
        ["Please move the visit: Tan and Peel.".to_owned(), one.todo[2].text.clone()]
    );
    let needles = one.needles.as_mut().unwrap();
    let whys = [
        "It shades evenly. 0.30 mm suits.",
        "It shades evenly. 0.25 mm suits.",
        "It shades evenly. 0.30 mm suits.",
        "",
    ];
    for (needle, (n, why)) in needles.ranked.iter_mut().zip(whys.iter().enumerate()) {
        needle.answers.iter_mut().for_each(|answer| answer.because = (*why).to_owned());
        needle.cautions = vec![["Light.", "Light.", "Slow.", ""][n].to_owned()];
    }
    let lines: Vec<String> = sheets.summary(&one).needles.into_iter().map(|it| it.line).collect();
    let want = [
        "It shades evenly. 0.30 mm suits. Light.",
        "0.25 mm suits. Light.",
        "0.30 mm suits. Slow.",
    ];
    assert_eq!(lines, want);
}

/// What stands on the list with its reason is not listed again as not ready.
#[test]
fn what_is_to_be_done_says_once_why() {
    let (sheets, model) = (Sheets::builtin().unwrap(), Model::builtin().unwrap());
    let why = "Nothing is kept under this name.";
    let listed = TodoItem {
        text: format!("Look under another name. {why}"),
        from: "client".to_owned(),
        ..item(0, Who::Studio, None)
    };
    let ready = |about: &str, because: &str| json!({ "about": about, "ready": false, "because": because, "confidence": "high" });
    let mut one = check(Language::En, Verdict::ProceedWithConditions, vec![listed]);
    let readiness = json!([ready("client", why), ready("machine", "It drives too little.")]);
    one.readiness = serde_json::from_value(readiness).unwrap();
    let page = read(&sheets.visit(&one, SheetFor::Studio, &model));
    assert_eq!(page.matches(why).count(), 1, "{page}");
    assert!(page.contains("It drives too little."), "{page}");
}

/// Two medicines of one kind give one errand and one reason, on the list and on the page.
#[test]
fn one_reason_within_another_is_not_found_twice() {
    let (sheets, model) = (Sheets::builtin().unwrap(), Model::builtin().unwrap());
    let mut one = check(Language::En, Verdict::ProceedWithConditions, Vec::new());
    one.findings = vec![
        finding("one", Verdict::ProceedWithConditions, "You may bleed more.", ""),
        finding(
            "two",
            Verdict::ProceedWithConditions,
            "You may bleed more. Your doctor decides.",
            "",
        ),
        finding("three", Verdict::ProceedWithConditions, "You may bleed more.", ""),
    ];
    let page = read(&sheets.visit(&one, SheetFor::Client, &model));
    assert_eq!(page.matches("You may bleed more.").count(), 1, "{page}");
    assert!(page.contains("Your doctor decides."), "{page}");
}

/// Only who looked into the drawer says how much lies there.
#[test]
fn no_lots_are_counted_where_nobody_looked() {
    let (sheets, model) = (Sheets::builtin().unwrap(), Model::builtin().unwrap());
    let mut one = check(Language::En, Verdict::Proceed, Vec::new());
    let counts = |one: &AppointmentCheck| {
        read(&sheets.visit(one, SheetFor::Studio, &model)).matches("Lots in the drawer").count()
    };
    assert_eq!(counts(&one), NEEDLES_MAX);
    one.needles.as_mut().unwrap().ranked.iter_mut().for_each(|needle| needle.lots.clear());
    assert_eq!(counts(&one), 0);
}

/// Everything that stands in a page, without its tags.
fn read(page: &str) -> String {
    let body = page.split_once("<body>").unwrap().1;
    let mut text = String::new();
    let mut within = false;
    for c in body.chars() {
        match c {
            '<' => within = true,
            '>' => within = false,
            c if !within => text.push(c),
            _ => {}
        }
    }
    text.replace("&amp;", "&")
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&#39;", "'")
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

    /// Whatever a check asks of anybody stands on the studio's page, and what it
    /// asks of the client on hers; markup in a sentence stays text.
    #[test]
    fn pages_lose_nothing_and_carry_no_markup_of_others(
        texts in prop::collection::vec("[a-z<>&\"' ]{1,30}", 0..8),
        whom in prop::collection::vec(0..4_usize, 8),
        german in any::<bool>(),
    ) {
        let (sheets, model) = (Sheets::builtin().unwrap(), Model::builtin().unwrap());
        let language = if german { Language::De } else { Language::En };
        let who = |n: usize| Who::ALL[whom[n] % Who::ALL.len()];
        let todo: Vec<TodoItem> = texts
            .iter()
            .enumerate()
            .map(|(n, text)| TodoItem { text: text.clone(), ..item(n, who(n), None) })
            .collect();
        let check = check(language, Verdict::Incomplete, todo.clone());
        let studio = sheets.visit(&check, SheetFor::Studio, &model);
        let client = sheets.visit(&check, SheetFor::Client, &model);
        for item in &todo {
            prop_assert!(read(&studio).contains(&item.text), "{studio}");
            if item.who == Who::Client {
                prop_assert!(read(&client).contains(&item.text), "{client}");
            }
        }
        for page in [&studio, &client] {
            prop_assert!(!page.contains("<script") && !page.contains("http"), "{page}");
            let (opened, closed) = (page.matches("<li>").count(), page.matches("</li>").count());
            prop_assert_eq!(opened, closed);
        }
    }
}

#[test]
fn every_word_of_the_frame_is_used() {
    let (sheets, said) = (Sheets::builtin().unwrap(), said_by_code("sheet"));
    let words = ["treatment.", "effect.", "verdict."];
    for key in sheets.texts.keys() {
        let known = words.iter().any(|area| key.starts_with(area))
            || super::KEYS.contains(&key)
            || said.contains(key.trim_end_matches(".one"));
        assert!(known, "{key}");
    }
}
