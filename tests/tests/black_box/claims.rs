//! The client's loop over due messages, and lists as streams.

use std::collections::BTreeSet;
use std::pin::{Pin, pin};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use etui_client::{Delivery, Error, Pages, Rows};
use etui_schema::reminders::{FailureReason, Reminder, ReminderState};
use etui_tests::running::client_of;
use futures_core::Stream;
use uuid::Uuid;

use crate::reminders::House;

/// A studio in which some messages are due.
fn busy() -> House {
    let house = House::open();
    for client in ["c-1", "c-2", "c-3"] {
        house.treat(client, "lips", "2027-03-16T07:00:00Z");
    }
    house.running.set_clock("2027-03-17T12:00:00Z");
    house
}

#[tokio::test]
async fn two_loops_deliver_everything_once() -> Result<(), Error> {
    let house = busy();
    let (one, two) = (house.running.client(), house.running.client());
    let sent = std::sync::Mutex::new(Vec::<Uuid>::new());
    let send = async |reminder: &Reminder| {
        // A turn for the other one.
        tokio::task::yield_now().await;
        sent.lock().expect("what was sent").push(reminder.id);
        Delivery::Delivered
    };
    let (one, two) = (one.claims().limit(2), two.claims().limit(2));
    let (first, second) = tokio::join!(one.run_once(send), two.run_once(send));
    let (first, second) = (first?, second?);
    let sent = sent.into_inner().expect("what was sent");
    let once: BTreeSet<Uuid> = sent.iter().copied().collect();
    assert!(3 <= sent.len(), "{sent:?}");
    assert_eq!(once.len(), sent.len(), "a message was sent twice");
    assert_eq!(first.delivered + second.delivered, sent.len() as u64);
    assert_eq!(house.count(ReminderState::Delivered), sent.len());
    let again = house.running.client().claims().run_once(async |_| Delivery::Delivered).await?;
    assert_eq!(again.delivered, 0);
    Ok(())
}

/// The message in hand is finished and reported; the rest waits for its lease.
#[tokio::test]
async fn a_stop_is_clean() -> Result<(), Error> {
    let house = busy();
    let client = house.running.client();
    let stopped = AtomicBool::new(false);
    let stop = std::future::poll_fn(|cx| {
        cx.waker().wake_by_ref();
        if stopped.load(Ordering::Relaxed) {
            std::task::Poll::Ready(())
        } else {
            std::task::Poll::Pending
        }
    });
    let begun = AtomicUsize::new(0);
    let worked = client
        .claims()
        .limit(3)
        .run(stop, async |_| {
            begun.fetch_add(1, Ordering::Relaxed);
            stopped.store(true, Ordering::Relaxed);
            Delivery::Delivered
        })
        .await?;
    assert_eq!(begun.load(Ordering::Relaxed), 1);
    assert_eq!((worked.delivered, worked.left, worked.unreported), (1, 2, 0));
    assert_eq!(house.count(ReminderState::Delivered), 1);
    assert_eq!(house.count(ReminderState::Leased), 2);
    Ok(())
}

#[tokio::test]
async fn what_fails_is_reported_as_such() -> Result<(), Error> {
    let house = busy();
    let client = house.running.client();
    let turn = AtomicUsize::new(0);
    let worked = client
        .claims()
        .run_once(async |_| match turn.fetch_add(1, Ordering::Relaxed) {
            0 => Delivery::Later(FailureReason::Unreachable, Duration::from_secs(900)),
            1 => Delivery::Skipped,
            2 => Delivery::Failed(FailureReason::NoAddress),
            _ => Delivery::Delivered,
        })
        .await?;
    assert_eq!((worked.failed, worked.skipped), (2, 1));
    assert_eq!(house.count(ReminderState::Failed), 1, "one of the two is tried again");
    assert_eq!(house.count(ReminderState::Skipped), 1);
    Ok(())
}

/// Without the scope there is nothing to wait for.
#[tokio::test]
async fn a_refusal_ends_the_loop() {
    let house = House::open();
    let nobody = client_of(house.running.address(), "etui_nobody");
    let never = std::future::pending();
    let ended = nobody.claims().run(never, async |_| Delivery::Delivered).await;
    assert!(matches!(ended, Err(Error::Problem { problem, .. }) if problem.status == 401));
}

#[tokio::test]
async fn a_list_is_a_stream_too() -> Result<(), Error> {
    let house = busy();
    let client = house.running.client();
    let scheduled = || -> Pages<Reminder> { client.reminders(ReminderState::Scheduled) };
    let wanted = scheduled().all().await?;
    let mut rows: Pin<&mut Rows<Reminder>> = pin!(scheduled().into_stream());
    let mut got = Vec::new();
    while let Some(row) = std::future::poll_fn(|cx| rows.as_mut().poll_next(cx)).await {
        got.push(row?);
    }
    assert!(3 < got.len());
    assert_eq!(got, wanted);

    let nobody = client_of(house.running.address(), "etui_nobody");
    let mut rows = pin!(nobody.reminders(ReminderState::Scheduled).into_stream());
    let first = std::future::poll_fn(|cx| rows.as_mut().poll_next(cx)).await;
    assert!(matches!(first, Some(Err(Error::Problem { .. }))));
    let after = std::future::poll_fn(|cx| rows.as_mut().poll_next(cx)).await;
    assert!(after.is_none(), "a stream ends after an error");
    Ok(())
}
