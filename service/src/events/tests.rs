//! Lanes against a store in memory, a clock that is moved by hand and a
//! receiver that does as it is told.

mod doubles;

use std::collections::BTreeMap;

use etui_schema::events::{Event, EventType};
use etui_schema::vocabulary::Instant;
use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

use self::doubles::{BEGIN, Studio, assert_in_order, seal};
use super::delivery::{self, Stands};
use super::lane::Rest;
use super::log;
use super::subscription::{CURSORS, SUBSCRIPTIONS, StoredSubscription};
use crate::store::seal::test_entropy;
use crate::store::{Batch, Order, Read, Store, outbox};
#[tokio::test]
async fn what_is_wanted_is_sent_once_and_nothing_else() {
    let mut studio = Studio::new().await;
    let mut lane = studio.lane();
    let first = studio.happens(EventType::ClientChanged, "clients/a").await;
    studio.happens(EventType::PackChanged, "packs/a").await;
    let third = studio.happens(EventType::LotRecalled, "lots/b").await;
    assert_eq!(lane.round().await.unwrap(), Rest::Until(None));
    assert_eq!(lane.round().await.unwrap(), Rest::Until(None));
    assert_in_order(&[first, third], &studio.receiver.taken());
    assert_eq!(studio.receiver.heard().len(), 2);
    for message in studio.receiver.heard() {
        let want =
            super::sign::signatures(&[vec![7; 32]], message.id, message.timestamp, &message.body);
        assert_eq!(message.signature, want);
        assert_eq!(message.timestamp, studio.now().as_second());
    }
}

#[tokio::test]
async fn a_receiver_that_is_down_for_an_hour_gets_all_of_it_in_order() {
    let mut studio = Studio::new().await;
    let mut lane = studio.lane();
    studio.receiver.down(Some(503));
    let begin = studio.now();
    let mut sent = Vec::new();
    for minute in 0..60 {
        let subjects = ["clients/a", "clients/b", "lots/c"];
        sent.extend(studio.changes(&subjects[..=minute % 3]).await);
        let end = begin.checked_add(SignedDuration::from_mins(minute as i64 + 1)).unwrap();
        studio.until(&mut lane, end).await;
        *studio.clock.lock().unwrap() = end;
    }
    assert!(studio.receiver.taken().is_empty());
    let tried = studio.receiver.heard().len();
    assert!((10..200).contains(&tried), "{tried} attempts in an hour");
    studio.receiver.down(None);
    let end = begin.checked_add(SignedDuration::from_hours(4)).unwrap();
    assert_eq!(studio.until(&mut lane, end).await, Rest::Until(None));
    assert_in_order(&sent, &studio.receiver.taken());
    assert_eq!(studio.receiver.taken().len(), sent.len(), "none twice");
    assert_eq!(studio.pending().await, 0);
}

/// The process ends at every possible moment: also after the receiver took an event and before
/// that was written down. Such a one comes again, under the same id.
#[tokio::test]
async fn a_restart_in_the_middle_loses_nothing() {
    let mut studio = Studio::new().await;
    let sent =
        studio.changes(&["clients/a", "clients/b", "clients/a", "clients/c", "clients/a"]).await;
    for polls in 0..400 {
        let mut lane = studio.lane();
        let round = lane.round();
        tokio::pin!(round);
        let mut left = polls % 23;
        // Polled some times, then dropped.
        std::future::poll_fn(|context| {
            if left == 0 || round.as_mut().poll(context).is_ready() {
                return std::task::Poll::Ready(());
            }
            left -= 1;
            context.waker().wake_by_ref();
            std::task::Poll::Pending
        })
        .await;
        tokio::task::yield_now().await;
    }
    studio.lane().round().await.unwrap();
    assert_in_order(&sent, &studio.receiver.taken());
    let ids: BTreeMap<Uuid, &Event> = BTreeMap::new();
    let taken = studio.receiver.taken();
    taken.iter().fold(ids, |mut ids, event| {
        assert!(
            ids.insert(event.id, event).is_none_or(|same| same == event),
            "same id, other event"
        );
        ids
    });
    assert_eq!(studio.pending().await, 0);
}

#[tokio::test]
async fn a_later_event_waits_for_the_earlier_one_of_its_subject_alone() {
    let mut studio = Studio::new().await;
    let mut lane = studio.lane();
    studio.receiver.answers("clients/a", 500);
    let sent = studio.changes(&["clients/a", "clients/a", "clients/b", "clients/a"]).await;
    lane.round().await.unwrap();
    let taken: Vec<Uuid> = studio.receiver.taken().iter().map(|event| event.id).collect();
    assert_eq!(taken, [sent[2]]);
    assert_eq!(studio.receiver.heard().len(), 2, "only the first of the subject is tried");
    studio.receiver.answers("clients/a", 204);
    studio.pass(SignedDuration::from_secs(10));
    lane.round().await.unwrap();
    let taken: Vec<Uuid> = studio.receiver.taken().iter().map(|event| event.id).collect();
    assert_eq!(taken, [sent[2], sent[0], sent[1], sent[3]]);
}

#[tokio::test]
async fn after_three_days_an_event_is_dead_and_its_subject_goes_on() {
    let mut studio = Studio::new().await;
    let mut lane = studio.lane();
    studio.receiver.answers("clients/a", 500);
    let sent = studio.changes(&["clients/a", "clients/a"]).await;
    let begin = studio.now();
    let end = begin.checked_add(SignedDuration::from_hours(73)).unwrap();
    studio.until(&mut lane, end).await;
    let first = &studio.deliveries().await[0];
    assert!(matches!(first.stands, Stands::Dead(_)), "{first:?}");
    assert!((20..30).contains(&first.attempts), "{} attempts", first.attempts);
    assert_eq!(first.recent.len(), 10, "only the latest attempts are kept");
    studio.receiver.answers("clients/a", 200);
    let end = end.checked_add(SignedDuration::from_hours(6)).unwrap();
    studio.until(&mut lane, end).await;
    assert_eq!(studio.receiver.taken().iter().map(|e| e.id).collect::<Vec<_>>(), [sent[1]]);
    // By hand it goes out after all.
    let mut snap = studio.store.snapshot().await.unwrap();
    let (mut dead, bytes) =
        delivery::find(&mut snap, studio.subscription, 1).await.unwrap().unwrap();
    dead.send_again(studio.now());
    let batch = delivery::replace(Batch::new(), studio.subscription, Some(bytes), &dead).unwrap();
    studio.store.commit(batch).await.unwrap();
    lane.round().await.unwrap();
    assert_eq!(
        studio.receiver.taken().iter().map(|e| e.id).collect::<Vec<_>>(),
        [sent[1], sent[0]]
    );
}

#[tokio::test]
async fn a_receiver_that_is_gone_is_left_alone() {
    let mut studio = Studio::new().await;
    let mut lane = studio.lane();
    studio.receiver.down(Some(410));
    studio.changes(&["clients/a", "clients/a"]).await;
    assert_eq!(lane.round().await.unwrap(), Rest::Ended);
    assert_eq!(studio.receiver.heard().len(), 1);
    studio.receiver.down(None);
    studio.changes(&["clients/b"]).await;
    studio.pass(SignedDuration::from_hours(24));
    assert_eq!(studio.lane().round().await.unwrap(), Rest::Ended);
    assert_eq!(studio.receiver.heard().len(), 1);
}

#[tokio::test]
async fn a_removed_subscription_ends_its_lane_and_is_cleared_away() {
    let mut studio = Studio::new().await;
    let mut lane = studio.lane();
    studio.receiver.down(Some(500));
    studio.changes(&["clients/a", "clients/b"]).await;
    lane.round().await.unwrap();
    let key = studio.subscription.as_bytes().to_vec();
    let gone = Batch::new().del(SUBSCRIPTIONS, key.clone()).del(CURSORS, key);
    studio.store.commit(gone).await.unwrap();
    assert_eq!(lane.round().await.unwrap(), Rest::Ended);
    let mut snap = studio.store.snapshot().await.unwrap();
    let batch = delivery::clear_all(&mut snap, studio.subscription).await.unwrap().unwrap();
    studio.store.commit(batch).await.unwrap();
    let mut snap = studio.store.snapshot().await.unwrap();
    assert_eq!(delivery::clear_all(&mut snap, studio.subscription).await.unwrap(), None);
    assert_eq!((studio.deliveries().await.len(), studio.pending().await), (0, 0));
}

#[tokio::test]
async fn old_events_and_old_deliveries_are_cleared_away_and_numbers_go_on() {
    let mut studio = Studio::new().await;
    let mut lane = studio.lane();
    studio.changes(&["clients/a", "clients/b"]).await;
    lane.round().await.unwrap();
    studio.pass(SignedDuration::from_hours(31 * 24));
    studio.changes(&["clients/c"]).await;
    lane.round().await.unwrap();
    let mut snap = studio.store.snapshot().await.unwrap();
    let batch = log::clear(&mut snap, studio.now()).await.unwrap().unwrap();
    studio.store.commit(batch).await.unwrap();
    let mut snap = studio.store.snapshot().await.unwrap();
    assert_eq!(log::clear(&mut snap, studio.now()).await.unwrap(), None);
    let oldest = log::oldest(&mut snap).await.unwrap().unwrap();
    assert_eq!((oldest, log::head(&mut snap).await.unwrap()), (3, 3));
    let batch = delivery::clear(&mut snap, studio.subscription, oldest).await.unwrap().unwrap();
    studio.store.commit(batch).await.unwrap();
    let left: Vec<u64> = studio.deliveries().await.iter().map(|held| held.number).collect();
    assert_eq!(left, [3]);
    studio.changes(&["clients/d"]).await;
    let mut snap = studio.store.snapshot().await.unwrap();
    assert_eq!(log::read(&mut snap, 3, 9).await.unwrap()[0].0, 4);
    let by_id = snap.scan(outbox::EVENTS_BY_ID, vec![]..vec![], Order::Ascending, 9).await.unwrap();
    assert_eq!(by_id.len(), 2);
}

#[test]
fn while_a_secret_is_changed_over_both_sign() {
    let begin: Timestamp = BEGIN.parse().unwrap();
    let at = |hours: i64| begin.checked_add(SignedDuration::from_hours(hours)).unwrap();
    let mut stored = StoredSubscription {
        id: Uuid::from_u128(1),
        url: "https://hooks.example/".into(),
        types: vec![EventType::ClientChanged],
        secrets: Vec::new(),
        created_at: Instant(begin),
        gone_at: None,
        paused: false,
        version: 1,
    };
    let mut entropy = test_entropy(2);
    let mut add = |stored: &mut StoredSubscription, byte: u8, now: Timestamp, until: Timestamp| {
        stored.add_secret(&seal(), &[byte; 32], (now, until), &mut entropy).unwrap();
    };
    add(&mut stored, 1, begin, begin);
    add(&mut stored, 2, at(1), at(25));
    let good = |stored: &StoredSubscription, now| {
        let secrets = stored.secrets_at(&seal(), now).unwrap();
        secrets.iter().map(|secret| secret[0]).collect::<Vec<_>>()
    };
    assert_eq!(good(&stored, at(1)), [2, 1]);
    assert_eq!(good(&stored, at(24)), [2, 1]);
    assert_eq!(good(&stored, at(25)), [2], "the end of the overlap does not count");
    // A third one within the overlap: each signs until what was told of it.
    add(&mut stored, 3, at(2), at(26));
    assert_eq!(good(&stored, at(3)), [3, 2, 1]);
    assert_eq!(good(&stored, at(25)), [3, 2]);
    // Without an overlap the old ones are gone at once.
    add(&mut stored, 4, at(4), at(4));
    assert_eq!(good(&stored, at(4)), [4]);
}
