//! A receiver that does as it is told, and a studio whose clock is moved by hand.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex};

use etui_schema::events::{Event, EventData, EventType};
use etui_schema::subscriptions::AttemptOutcome;
use etui_schema::vocabulary::Instant;
use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

use super::super::delivery::{self, DELIVERIES, Outcome, PENDING, StoredDelivery};
use super::super::lane::{Lane, Rest, Shared};
use super::super::post::{Message, Post};
use super::super::stored::StoredEvent;
use super::super::subscription::{SUBSCRIPTIONS, StoredSubscription};
use crate::store::record::{HashKey, decode, encode};
use crate::store::seal::test_entropy;
use crate::store::{Batch, MemoryStore, Order, Read, Store, StudioSeal};

pub(super) const BEGIN: &str = "2027-03-16T08:00:00Z";

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
pub(super) struct Receiver(Arc<Mutex<Told>>);

impl Receiver {
    pub(super) fn down(&self, status: Option<u16>) {
        self.0.lock().unwrap().down = status;
    }

    pub(super) fn answers(&self, subject: &str, status: u16) {
        self.0.lock().unwrap().answers.insert(subject.into(), status);
    }

    pub(super) fn taken(&self) -> Vec<Event> {
        self.0.lock().unwrap().taken.clone()
    }

    pub(super) fn heard(&self) -> Vec<Message> {
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

pub(super) struct Studio {
    pub(super) store: MemoryStore,
    pub(super) clock: Arc<Mutex<Timestamp>>,
    pub(super) receiver: Receiver,
    pub(super) subscription: Uuid,
    pub(super) events: u128,
}

impl Studio {
    pub(super) async fn new() -> Self {
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

    pub(super) fn now(&self) -> Timestamp {
        *self.clock.lock().unwrap()
    }

    pub(super) fn pass(&self, time: SignedDuration) {
        let mut now = self.clock.lock().unwrap();
        *now = now.checked_add(time).unwrap();
    }

    pub(super) fn lane(&self) -> Lane<MemoryStore, Receiver> {
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

    pub(super) async fn happens(&mut self, kind: EventType, subject: &str) -> Uuid {
        self.events += 1;
        let id = Uuid::from_u128(1000 + self.events);
        let data = EventData::default();
        let (source, subject, time) =
            ("/studios/1".to_owned(), subject.into(), Instant(self.now()));
        let event = StoredEvent { source, id, kind, subject, time, data };
        self.store.commit(Batch::new().event(event.outgoing().unwrap())).await.unwrap();
        id
    }

    pub(super) async fn changes(&mut self, subjects: &[&str]) -> Vec<Uuid> {
        let mut ids = Vec::new();
        for subject in subjects {
            ids.push(self.happens(EventType::ClientChanged, subject).await);
        }
        ids
    }

    pub(super) async fn deliveries(&self) -> Vec<StoredDelivery> {
        let mut snap = self.store.snapshot().await.unwrap();
        let range = delivery::range(self.subscription);
        let rows = snap.scan(DELIVERIES, range, Order::Ascending, 10_000).await.unwrap();
        rows.into_iter().map(|(_, value)| decode(&value).unwrap()).collect()
    }

    pub(super) async fn pending(&self) -> usize {
        let mut snap = self.store.snapshot().await.unwrap();
        let range = delivery::range(self.subscription);
        snap.scan(PENDING, range, Order::Ascending, 10_000).await.unwrap().len()
    }

    /// Passes time from one due moment to the next until nothing is left or the time is up.
    pub(super) async fn until(
        &self,
        lane: &mut Lane<MemoryStore, Receiver>,
        end: Timestamp,
    ) -> Rest {
        loop {
            let rest = lane.round().await.unwrap();
            match rest {
                Rest::Until(Some(due)) if due <= end => *self.clock.lock().unwrap() = due,
                Rest::Until(_) | Rest::Ended => return rest,
            }
        }
    }
}

pub(super) fn seal() -> StudioSeal {
    StudioSeal::new(HashKey::new([3; 32]))
}

/// Of every subject the events come in their order, and nothing comes that nobody sent.
pub(super) fn assert_in_order(sent: &[Uuid], taken: &[Event]) {
    let mut last: BTreeMap<&str, u64> = BTreeMap::new();
    let mut seen = BTreeSet::new();
    for event in taken.iter().filter(|event| seen.insert(event.id)) {
        let before = last.insert(&event.subject, event.sequence.0);
        assert!(before.is_none_or(|before| before < event.sequence.0), "{}", event.subject);
    }
    assert_eq!(seen, sent.iter().copied().collect(), "each once, and no other");
}
