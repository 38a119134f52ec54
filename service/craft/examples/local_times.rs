//! Places local times on the time line, for `tests/conformance/zones.py`.
//!
//! Reads lines of `zone,local` from standard input and writes one JSON object a
//! line: the instant, its local time, what shifted it, and the day four
//! calendar months on.

use std::io::{BufRead, Write};

use etui_craft::aftercare::dating::{DatingError, months_after, place};

fn answer(line: &str) -> Result<serde_json::Value, Box<dyn std::error::Error>> {
    let (zone, local) = line.split_once(',').ok_or("a line is `zone,local`")?;
    let local: jiff::civil::DateTime = local.parse()?;
    let placed = place(local, &jiff::tz::TimeZone::get(zone)?)?;
    let donation = months_after(local.date(), 4).map_err(|e: DatingError| e.to_string())?;
    let shifts: Vec<&str> = placed.shifts.iter().map(|shift| shift.as_str()).collect();
    Ok(serde_json::json!({
        "instant": placed.at.to_string(),
        "local": placed.local.datetime().to_string(),
        "shifts": shifts,
        "four_months_on": donation.to_string(),
    }))
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut out = std::io::stdout().lock();
    for line in std::io::stdin().lock().lines() {
        writeln!(out, "{}", answer(&line?)?)?;
    }
    Ok(())
}
