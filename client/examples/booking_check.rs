//! What a booking program asks before it confirms an appointment.
//!
//!     export ETUI=http://127.0.0.1:8417 TOKEN=$(cat etui-data/owner-token)
//!     cargo run -p etui-client --example booking_check -- booking-2041 2027-04-06T08:00:00Z
//!
//! Exits with 0 if the appointment may be confirmed (conditions may have to be
//! met first), with 1 if not, with 2 if there was no answer.

use std::process::ExitCode;

use etui_client::{Client, Error};
use etui_schema::open::Open;
use etui_schema::vocabulary::Verdict;
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};

/// What no name of a booking holds.
const WITHIN_KEY: &AsciiSet =
    &NON_ALPHANUMERIC.remove(b'-').remove(b'.').remove(b'_').remove(b'~').remove(b':');

#[tokio::main(flavor = "current_thread")]
async fn main() -> ExitCode {
    match check().await.map(|verdict| verdict.known()) {
        Ok(Some(Verdict::Proceed | Verdict::ProceedWithConditions)) => ExitCode::SUCCESS,
        // A verdict that is newer than this program is none that lets her come.
        Ok(
            Some(Verdict::Hold | Verdict::Refer | Verdict::Decline | Verdict::Incomplete) | None,
        ) => ExitCode::FAILURE,
        Err(why) => {
            eprintln!("{why}");
            ExitCode::from(2)
        }
    }
}

async fn check() -> Result<Open<Verdict>, Box<dyn std::error::Error>> {
    let base = std::env::var("ETUI").unwrap_or_else(|_| "http://127.0.0.1:8417".to_owned());
    let client = Client::builder(base).token(std::env::var("TOKEN")?).build()?;
    let mut arguments = std::env::args().skip(1);
    let booking = arguments.next().ok_or("which booking?")?;
    let starts_at = arguments.next().ok_or("when does it start?")?;
    let request = serde_json::from_value(serde_json::json!({
        "booking_ref": booking,
        "treatment": "lips",
        "effect": "soft_shading",
        "starts_at": starts_at,
        "born_on": "1991-04-02",
        "answers": { "pregnant": false, "warfarin": false, "cold_sore_active": false },
        "candidates": "usual",
    }))?;
    // The booking is the key: however often this runs, the check is made once a day.
    // What a key cannot hold is written as in an address: a wrong name is told as one.
    let key = format!("{booking}-{starts_at}");
    let key = utf8_percent_encode(&key, WITHIN_KEY).to_string();
    let check = match client.with_key(&key)?.create_appointment_check(&request).await {
        Ok(check) => check,
        Err(Error::Problem { problem, .. }) => {
            for fault in &problem.errors {
                eprintln!("{} {}: {}", fault.pointer, fault.code, fault.message);
            }
            return Err(problem.to_string().into());
        }
        Err(other) => return Err(other.into()),
    };
    println!("{}: {}", check.verdict, check.summary);
    for todo in &check.todo {
        println!("- {}", todo.text);
    }
    Ok(check.verdict)
}
