//! Tables and laws of aftercare. Beside each check stands its source; what
//! only the trade says is marked `common practice, no source`.

mod calendar;
mod healing;
mod messages;
mod pack;
mod plans;
mod review;
mod time;
mod triage;
mod triage_asks;
mod triage_before;
mod triage_days;
mod triage_rows;
mod wording;

use std::sync::LazyLock;

use etui_schema::vocabulary::{Skin, Treatment};
use jiff::tz::TimeZone;

use super::{Plan, Plans, Request, Step};
use crate::evidence::Register;

fn plans() -> &'static Plans {
    static PLANS: LazyLock<Plans> =
        LazyLock::new(|| Plans::builtin(&Register::builtin().unwrap()).unwrap());
    &PLANS
}

fn zone(name: &str) -> TimeZone {
    TimeZone::get(name).unwrap()
}

/// A session on 18 March 2027 at 14:00 in Berlin.
fn request(treatment: Treatment) -> Request {
    Request {
        treatment,
        performed_at: "2027-03-18T13:00:00Z".parse().unwrap(),
        zone: zone("Europe/Berlin"),
        skin: Skin::default(),
        country: None,
        conditions: Vec::new(),
        message_time: None,
        quiet_hours: None,
        closed_days: Vec::new(),
        opening_hours: None,
        opens_on: Vec::new(),
        contacts: Default::default(),
    }
}

fn aged(treatment: Treatment, age_years: u8) -> Request {
    let mut request = request(treatment);
    request.skin.age_years = Some(age_years);
    request
}

fn step<'a>(plan: &'a Plan, key: &str) -> &'a Step {
    plan.steps.iter().find(|step| &*step.key == key).unwrap_or_else(|| panic!("no step {key}"))
}
