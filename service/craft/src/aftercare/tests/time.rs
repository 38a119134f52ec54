use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::Shift;
use jiff::civil::time;

use super::super::dating::{Placed, QuietHours, months_after, place};
use super::{aged, plans, step, zone};

/// RFC 5545 section 3.3.5 against an independent implementation of the same
/// rule; the file says how its figures came about.
#[test]
fn local_times_become_the_instants_of_an_independent_implementation() {
    let mut zones = std::collections::BTreeSet::new();
    let mut cases = 0;
    for line in include_str!("local_times.csv").lines().filter(|line| !line.starts_with('#')) {
        let fields: Vec<&str> = line.split(',').collect();
        let [name, local, instant, back, shift, why] = fields[..] else { panic!("{line}") };
        let placed = place(local.parse().unwrap(), &zone(name)).unwrap();
        assert_eq!(placed.at.to_string(), instant, "{line}");
        assert_eq!(placed.local.datetime().to_string(), back, "{line}");
        let want = match shift {
            "gap" => vec![Shift::Gap],
            "doubled" => vec![Shift::Doubled],
            _ => vec![],
        };
        assert_eq!(placed.shifts, want, "{why}: {line}");
        zones.insert(name);
        cases += 1;
    }
    assert!(60 <= cases && 12 <= zones.len(), "{cases} cases over {} zones", zones.len());
}

#[test]
fn nine_o_clock_stays_nine_o_clock_across_both_changes() {
    for (performed_at, zone_name) in [
        ("2027-03-26T13:00:00Z", "Europe/Berlin"),
        ("2027-10-29T13:00:00Z", "Europe/Berlin"),
        ("2027-03-12T18:00:00Z", "America/New_York"),
        ("2027-09-30T03:00:00Z", "Australia/Lord_Howe"),
        ("2027-04-01T03:00:00Z", "Australia/Lord_Howe"),
    ] {
        let mut request = aged(Treatment::Brows, 30);
        request.performed_at = performed_at.parse().unwrap();
        request.zone = zone(zone_name);
        let plan = plans().plan(&request).unwrap();
        // The first message of a day; what follows it waits its turn.
        let first = |step: &&super::Step| !step.at.shifts.contains(&Shift::Spaced);
        for step in plan.steps.iter().filter(|step| 1 <= step.from_day).filter(first) {
            assert_eq!(step.at.local.time(), time(9, 0, 0, 0), "{zone_name} {}", step.key);
        }
    }
}

/// What would go out by night waits for its end where it is read, with the grace of the rules; by day it
/// goes out at once. The ends are half open.
#[test]
fn what_would_go_out_by_night_waits_for_its_end() {
    for (at, zone_name, want) in [
        ("2027-03-16T19:59:59Z", "Europe/Berlin", None),
        ("2027-03-16T20:00:00Z", "Europe/Berlin", Some("2027-03-17T07:00:00Z")),
        ("2027-03-17T06:59:59Z", "Europe/Berlin", Some("2027-03-17T07:00:00Z")),
        ("2027-03-17T07:00:00Z", "Europe/Berlin", None),
        // Clocks go forward and back within the night.
        ("2027-03-27T22:00:00Z", "Europe/Berlin", Some("2027-03-28T06:00:00Z")),
        ("2027-10-30T22:00:00Z", "Europe/Berlin", Some("2027-10-31T07:00:00Z")),
        ("2027-03-16T20:00:00Z", "America/New_York", None),
        ("2027-03-17T01:00:00Z", "America/New_York", Some("2027-03-17T12:00:00Z")),
    ] {
        let found = plans().after_night(at.parse().unwrap(), &zone(zone_name));
        let day = found.as_ref().map(|(placed, _)| placed.at.to_string());
        assert_eq!(day.as_deref(), want, "{at} {zone_name}");
        if let Some((placed, latest)) = found {
            assert_eq!(placed.local.time(), time(8, 0, 0, 0));
            assert_eq!(latest.duration_since(placed.at).as_hours(), 6);
        }
    }
}

#[test]
fn a_message_in_the_gap_or_the_doubled_hour_says_so() {
    for (performed_at, message_time, local, shift) in [
        ("2027-03-26T13:00:00Z", time(2, 30, 0, 0), "2027-03-28T03:30:00", Shift::Gap),
        ("2027-10-29T13:00:00Z", time(2, 30, 0, 0), "2027-10-31T02:30:00", Shift::Doubled),
    ] {
        let mut request = aged(Treatment::Brows, 30);
        request.performed_at = performed_at.parse().unwrap();
        request.message_time = Some(message_time);
        let plan = plans().plan(&request).unwrap();
        let day_2 = step(&plan, "brows_day_2_3");
        assert_eq!(day_2.at.local.datetime().to_string(), local);
        assert_eq!(day_2.at.shifts, [shift]);
    }
}

#[test]
fn quiet_hours_are_half_open_and_may_wrap_midnight() {
    for (from, until, inside, outside) in [
        ("21:00", "08:00", vec!["21:00", "23:59", "00:00", "07:59"], vec!["08:00", "20:59"]),
        ("12:00", "14:00", vec!["12:00", "13:59"], vec!["11:59", "14:00", "00:00"]),
        ("00:01", "00:00", vec!["00:01", "23:59"], vec!["00:00"]),
    ] {
        let quiet = QuietHours::new(from.parse().unwrap(), until.parse().unwrap()).unwrap();
        for time in inside {
            assert!(quiet.cover(time.parse().unwrap()), "{from}-{until} at {time}");
        }
        for time in outside {
            assert!(!quiet.cover(time.parse().unwrap()), "{from}-{until} at {time}");
        }
    }
    assert!(QuietHours::new(time(8, 0, 0, 0), time(8, 0, 0, 0)).is_none());
}

#[test]
fn what_falls_into_quiet_hours_moves_to_their_end() {
    for (zone_name, local, from, until, want) in [
        ("Europe/Berlin", "2027-03-18T22:10", "21:00", "08:00", "2027-03-19T08:00:00"),
        ("Europe/Berlin", "2027-03-18T07:59", "21:00", "08:00", "2027-03-18T08:00:00"),
        ("Europe/Berlin", "2027-12-31T22:00", "21:00", "08:00", "2028-01-01T08:00:00"),
        // the end of the quiet hours does not exist on this day
        ("Europe/Berlin", "2027-03-28T01:00", "22:00", "02:30", "2027-03-28T03:30:00"),
        // the only hour that is not quiet does not exist on this day
        ("Europe/Berlin", "2027-03-28T01:00", "03:00", "02:30", "2027-03-29T02:30:00"),
        // a whole day does not exist
        ("Pacific/Apia", "2011-12-29T23:00", "21:00", "08:00", "2011-12-31T08:00:00"),
        ("Australia/Lord_Howe", "2027-10-03T01:50", "21:00", "02:15", "2027-10-03T02:45:00"),
    ] {
        let zone = zone(zone_name);
        let quiet = QuietHours::new(from.parse().unwrap(), until.parse().unwrap()).unwrap();
        let placed = place(local.parse().unwrap(), &zone).unwrap();
        let moved = quiet.respect(placed, &zone).unwrap();
        assert_eq!(moved.local.datetime().to_string(), want, "{zone_name} {local}");
        assert!(moved.shifts.contains(&Shift::QuietHours));
    }
}

#[test]
fn in_the_doubled_hour_quiet_hours_never_move_a_message_back() {
    let berlin = zone("Europe/Berlin");
    let quiet = QuietHours::new(time(22, 0, 0, 0), time(2, 30, 0, 0)).unwrap();
    // 02:10 for the second time; the first 02:30 is already over.
    let second = Placed::at("2027-10-31T01:10:00Z".parse().unwrap(), &berlin);
    let moved = quiet.respect(second, &berlin).unwrap();
    assert_eq!(moved.at.to_string(), "2027-10-31T01:30:00Z");
}

#[test]
fn the_first_message_waits_for_the_end_of_the_session() {
    let mut request = aged(Treatment::Brows, 30);
    let plan = plans().plan(&request).unwrap();
    let first = step(&plan, "red_flags_brows");
    assert_eq!(first.at.at.to_string(), "2027-03-18T13:30:00Z");
    assert_eq!(first.at.shifts, [Shift::AfterTreatment]);
    // A late session with quiet hours: the first words come in the morning.
    request.performed_at = "2027-03-18T20:00:00Z".parse().unwrap();
    request.quiet_hours = Some((time(21, 0, 0, 0), time(8, 0, 0, 0)));
    let plan = plans().plan(&request).unwrap();
    let first = step(&plan, "red_flags_brows");
    assert_eq!(first.at.local.datetime().to_string(), "2027-03-19T08:00:00");
    assert_eq!(first.at.shifts, [Shift::AfterTreatment, Shift::QuietHours]);
    assert!(first.at.at < first.latest);
}

#[test]
fn months_clamp_to_the_last_day_there_is() {
    for (from, months, want) in [
        ("2027-10-31", 4, "2028-02-29"),
        ("2026-10-31", 4, "2027-02-28"),
        ("2027-12-31", 12, "2028-12-31"),
        ("2028-02-29", 12, "2029-02-28"),
        ("2027-05-31", 1, "2027-06-30"),
        ("2027-03-18", -4, "2026-11-18"),
    ] {
        let got = months_after(from.parse().unwrap(), months).unwrap();
        assert_eq!(got.to_string(), want, "{from} and {months} months");
    }
    assert!(months_after("9999-12-31".parse().unwrap(), 1).is_err());
}
