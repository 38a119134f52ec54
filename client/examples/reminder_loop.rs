//! A program that sends due messages until it is interrupted.
//!
//!     export ETUI=http://127.0.0.1:8417 TOKEN=$(cat etui-data/owner-token)
//!     cargo run -p etui-client --example reminder_loop
//!     cargo run -p etui-client --example reminder_loop -- once
//!
//! "Sending" is printing here. Ctrl-C ends it after the message in hand.

use std::time::Duration;

use etui_client::{Client, Delivery};
use etui_schema::reminders::{FailureReason, Reminder};

#[tokio::main(flavor = "current_thread")]
async fn main() -> Result<(), Box<dyn std::error::Error>> {
    let base = std::env::var("ETUI").unwrap_or_else(|_| "http://127.0.0.1:8417".to_owned());
    let client = Client::builder(base).token(std::env::var("TOKEN")?).build()?;
    let claims = client.claims().limit(20).lease_seconds(600).idle(Duration::from_secs(30));
    let worked = if std::env::args().nth(1).as_deref() == Some("once") {
        claims.run_once(send).await?
    } else {
        let stop = async {
            let _ = tokio::signal::ctrl_c().await;
        };
        claims.run(stop, send).await?
    };
    println!("{worked:?}");
    Ok(())
}

/// In the place of a message service. One that is down is tried again later.
async fn send(reminder: &Reminder) -> Delivery {
    let again = if reminder.maybe_sent { " (may have been sent before)" } else { "" };
    println!("to {}{again}: {}", reminder.client_ref, reminder.text);
    match std::env::var("ETUI_CARRIER").as_deref() {
        Ok("down") => Delivery::Later(FailureReason::Unreachable, Duration::from_secs(900)),
        _ => Delivery::Delivered,
    }
}
