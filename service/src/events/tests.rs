//! Lanes against a store in memory, a clock that is moved by hand and a
//! receiver that does as it is told.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex};

use etui_schema::events::{Event, EventData, EventType};
use etui_schema::subscriptions::AttemptOutcome;
use etui_schema::vocabulary::Instant;
use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

use super::delivery::{self, DELIVERIES, Outcome, PENDING, Stands, StoredDelivery};
use super::lane::{Lane, Rest, Shared};
use super::log;
use super::post::{Message, Post};
use super::stored::StoredEvent;
use super::subscription::{CURSORS, SUBSCRIPTIONS, StoredSubscription};
use crate::store::record::{HashKey, decode, encode};
use crate::store::seal::test_entropy;
use crate::store::{Batch, MemoryStore, Order, Read, Store, StudioSeal, outbox};

const BEGIN: &str = "2027-03-16T08:00:00Z";

#[derive(Default)]
struct Told {
    /// Every message, in the order in which it came.
    heard: Vec<Message>,
    /// Those that were taken.
    taken: Vec<Event>,
    /// What is answered, by subject; 200 if nothing is said.
    answers: BTreeMap<String, u16>,
    /// What is answered to everything, if it is down.
    down: Option<u16>,
}

/// A receiver.
#[derive(Clone, Default)]
struct Receiver(Arc<Mutex<Told>>);

impl Receiver {
    fn down(&self, status: Option<u16>) {
        self.0.lock().unwrap().down = status;
    }

    fn answers(&self, subject: &str, status: u16) {
        self.0.lock().unwrap().answers.insert(subject.into(), status);
    }

    fn taken(&self) -> Vec<Event> {
        self.0.lock().unwrap().taken.clone()
    }

    fn heard(&self) -> Vec<Message> {
        self.0.lock().unwrap().heard.clone()
    }
}

impl Post for Receiver {
    async fn post(&self, message: Message) -> Outcome {
        tokio::task::yield_now().await;
        let mut told = self.0.lock().unwrap();
        let event: Event = serde_json::from_slice(&message.body).unwrap();
        told.heard.push(message);
        let status = told.down.or_else(|| told.answers.get(&event.subject).copied()).unwrap_or(200);
        let what = match status {
            200..=299 => AttemptOutcome::Delivered,
            410 => AttemptOutcome::Gone,
            _ => AttemptOutcome::Refused,
        };
        if what == AttemptOutcome::Delivered {
            told.taken.push(event);
        }
        Outcome { what, status: Some(status), retry_after: None }
    }
}

struct Studio {
    store: MemoryStore,
    clock: Arc<Mutex<Timestamp>>,
    receiver: Receiver,
    subscription: Uuid,
    events: u128,
}

impl Studio {
    async fn new() -> Self {
        let studio = Self {
            store: MemoryStore::new(),
            clock: Arc::new(Mutex::new(BEGIN.parse().unwrap())),
            receiver: Receiver::default(),
            subscription: Uuid::from_u128(1),
            events: 0,
        };
        let mut stored = StoredSubscription {
            id: studio.subscription,
            url: "https://hooks.example/".into(),
            types: vec![EventType::ClientChanged, EventType::LotRecalled],
            secrets: Vec::new(),
            created_at: Instant(studio.now()),
            gone_at: None,
            paused: false,
            version: 1,
        };
        let now = (studio.now(), studio.now());
        stored.add_secret(&seal(), &[7; 32], now, &mut test_entropy(1)).unwrap();
        let batch = Batch::new().put(SUBSCRIPTIONS, studio.subscription, encode(&stored).unwrap());
        studio.store.commit(batch).await.unwrap();
        studio
    }

    fn now(&self) -> Timestamp {
        *self.clock.lock().unwrap()
    }

    fn pass(&self, time: SignedDuration) {
        let mut now = self.clock.lock().unwrap();
        *now = now.checked_add(time).unwrap();
    }

    fn lane(&self) -> Lane<MemoryStore, Receiver> {
        let clock = Arc::clone(&self.clock);
        let shared = Shared {
            store: self.store.clone(),
            seal: seal(),
            wall: Arc::new({
                let clock = Arc::clone(&clock);
                move || *clock.lock().unwrap()
            }),
            now: Arc::new(move || *clock.lock().unwrap()),
            post: self.receiver.clone(),
        };
        Lane::new(Arc::new(shared), self.subscription)
    }

    async fn happens(&mut self, kind: EventType, subject: &str) -> Uuid {
        self.events += 1;
        let id = Uuid::from_u128(1000 + self.events);
        let data = EventData::default();
        let event =
            StoredEvent { id, kind, subject: subject.into(), time: Instant(self.now()), data };
        self.store.commit(Batch::new().event(event.outgoing().unwrap())).await.unwrap();
        id
    }

    async fn changes(&mut self, subjects: &[&str]) -> Vec<Uuid> {
        let mut ids = Vec::new();
        for subject in subjects {
            ids.push(self.happens(EventType::ClientChanged, subject).await);
        }
        ids
    }

    async fn deliveries(&self) -> Vec<StoredDelivery> {
        let mut snap = self.store.snapshot().await.unwrap();
        let range = delivery::range(self.subscription);
        let rows = snap.scan(DELIVERIES, range, Order::Ascending, 10_000).await.unwrap();
        rows.into_iter().map(|(_, value)| decode(&value).unwrap()).collect()
    }

    async fn pending(&self) -> usize {
        let mut snap = self.store.snapshot().await.unwrap();
        let range = delivery::range(self.subscription);
        snap.scan(PENDING, range, Order::Ascending, 10_000).await.unwrap().len()
    }

    /// Passes time from one due moment to the next until nothing is left or the time is up.
    async fn until(&self, lane: &mut Lane<MemoryStore, Receiver>, end: Timestamp) -> Rest {
        loop {
            let rest = lane.round().await.unwrap();
            match rest {
                Rest::Until(Some(due)) if due <= end => *self.clock.lock().unwrap() = due,
                Rest::Until(_) | Rest::Ended => return rest,
            }
        }
    }
}

fn seal() -> StudioSeal {
    StudioSeal::new(HashKey::new([3; 32]))
}

/// Of every subject the events come in their order, and nothing comes that nobody sent.
fn assert_in_order(sent: &[Uuid], taken: &[Event]) {
    let mut last: BTreeMap<&str, u64> = BTreeMap::new();
    let mut seen = BTreeSet::new();
    for event in taken.iter().filter(|event| seen.insert(event.id)) {
        let before = last.insert(&event.subject, event.sequence.0);
        assert!(before.is_none_or(|before| before < event.sequence.0), "{}", event.subject);
    }
    assert_eq!(seen, sent.iter().copied().collect(), "each once, and no other");
}

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
