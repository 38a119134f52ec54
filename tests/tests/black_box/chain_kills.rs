//! Processes on one database die at any moment while others write: nothing that
//! was acknowledged is lost, and events keep their numbers.
//! `ETUI_SERVICE_KILLS` says how often one is killed.

use std::net::SocketAddr;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::Duration;

use etui_tests::child::Child;
use etui_tests::keep_alive::Connection;
use etui_tests::wire::Request;
use serde_json::json;

use crate::chain::{Chain, USUAL};

const KILLS: usize = 4;
/// Writers at each of the two.
const WRITERS: usize = 4;

/// Where one of the two listens at the moment.
type Place = Mutex<Option<(SocketAddr, String)>>;

/// Clients that are put while one of the two starts anew: it reads every client's key, so without a
/// bound each start would take longer than the one before.
const MEANWHILE: u64 = 400;

/// Puts clients, no more than so many, until it is told to stop; those that were acknowledged.
fn write(
    place: &Place,
    writer: usize,
    stop: &AtomicBool,
    (count, most): (&AtomicU64, &AtomicU64),
) -> Vec<String> {
    let mut acknowledged = Vec::new();
    let mut connection: Option<Connection> = None;
    for n in 0.. {
        if stop.load(Ordering::SeqCst) {
            break;
        }
        while most.load(Ordering::Relaxed) <= count.load(Ordering::Relaxed)
            && !stop.load(Ordering::SeqCst)
        {
            std::thread::sleep(Duration::from_millis(1));
        }
        if connection.is_none() {
            let known = place.lock().expect("nobody panics here").clone();
            connection = known.and_then(|(address, token)| Connection::open(address, &token).ok());
        }
        let Some(open) = &mut connection else {
            std::thread::sleep(Duration::from_millis(5));
            continue;
        };
        let name = format!("client-{writer}-{n}");
        let put = Request::put(format!("/v1/clients/{name}"), &json!({ "born_on": "1990-05-02" }));
        match open.ask(&put) {
            Ok(answer) if answer.status == 201 => {
                acknowledged.push(name);
                count.fetch_add(1, Ordering::Relaxed);
            }
            // It may have been written, or not: nobody said.
            Ok(_) => std::thread::sleep(Duration::from_millis(5)),
            Err(_) => connection = None,
        }
    }
    acknowledged
}

/// Numbers of events, from the first on.
fn numbered_without_gap(service: &Child) -> usize {
    let (mut after, mut seen) = (0_u64, 0);
    loop {
        let target = format!("/v1/events?after={after}&limit=200");
        let answer = service.call(&Request::get(target));
        assert_eq!(answer.status, 200, "{}", answer.text());
        let events = answer.json();
        let events = events["items"].as_array().cloned().unwrap_or_default();
        if events.is_empty() {
            return seen;
        }
        for event in &events {
            let number: u64 =
                event["sequence"].as_str().and_then(|n| n.parse().ok()).expect("a number");
            assert_eq!(number, after + 1, "a gap after {after}");
            (after, seen) = (number, seen + 1);
        }
    }
}

#[test]
fn what_was_acknowledged_outlives_whoever_acknowledged_it() {
    let Some(chain) = Chain::new() else { return };
    let kills =
        std::env::var("ETUI_SERVICE_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(KILLS);
    let first = chain.start("a", USUAL);
    chain.introduce("b");
    let mut children = [Some(first), Some(chain.start("b", USUAL))];
    let token = children[0].as_ref().expect("it runs").token().to_owned();
    let places: [Place; 2] = std::array::from_fn(|at| {
        Mutex::new(children[at].as_ref().map(|child| (child.address(), token.clone())))
    });
    let (stop, count, most) = (AtomicBool::new(false), AtomicU64::new(0), AtomicU64::new(0));
    let acknowledged: Vec<String> = std::thread::scope(|scope| {
        let (places, stop, count, most) = (&places, &stop, &count, &most);
        let writers: Vec<_> = (0..2 * WRITERS)
            .map(|writer| {
                let bounds = (count, most);
                scope.spawn(move || write(&places[writer % 2], writer, stop, bounds))
            })
            .collect();
        for kill in 0..kills {
            // Never at the same point of what they do: the time goes by what was written.
            let until =
                count.load(Ordering::Relaxed) + 20 + u64::try_from(kill * 37 % 101).unwrap_or(0);
            most.store(until + MEANWHILE, Ordering::Relaxed);
            while count.load(Ordering::Relaxed) < until {
                std::thread::sleep(Duration::from_millis(1));
            }
            let which = kill % 2;
            *places[which].lock().expect("nobody panics here") = None;
            children[which].take().expect("it runs").kill();
            let again = chain.start(["a", "b"][which], USUAL);
            *places[which].lock().expect("nobody panics here") =
                Some((again.address(), token.clone()));
            children[which] = Some(again);
        }
        stop.store(true, Ordering::SeqCst);
        writers.into_iter().flat_map(|writer| writer.join().expect("a writer")).collect()
    });
    let [Some(one), Some(other)] = &children else { panic!("both run") };
    for (at, name) in acknowledged.iter().enumerate() {
        let service = if at % 2 == 0 { one } else { other };
        let status = service.call(&Request::get(format!("/v1/clients/{name}"))).status;
        assert_eq!(status, 200, "{name} was acknowledged");
    }
    let events = numbered_without_gap(one);
    assert!(acknowledged.len() <= events, "{} clients, {events} events", acknowledged.len());
    println!("{kills} kills, {} acknowledged, {events} events, 0 lost", acknowledged.len());
}

/// One that slept while all were started anew with other settings serves nothing, says so where it is
/// asked whether it can work, and does nothing for the others.
#[test]
fn who_slept_through_a_change_of_settings_says_so() {
    let Some(chain) = Chain::new() else { return };
    let sleeper = chain.start("a", USUAL);
    chain.introduce("b");
    sleeper.freeze();
    // The database ends the connection of one that says nothing for 8 s.
    std::thread::sleep(Duration::from_secs(10));
    let other = chain.start("b", &[USUAL, &["--keep-health", "P9Y"]].concat());
    sleeper.thaw();
    let ready = Request::get("/health/ready");
    let began = std::time::Instant::now();
    loop {
        let answer = sleeper.call(&ready);
        if answer.status == 503 && answer.text().contains("closed") {
            break;
        }
        assert!(began.elapsed() < Duration::from_secs(15), "{}", answer.text());
        std::thread::sleep(Duration::from_millis(50));
    }
    assert_eq!(sleeper.call(&Request::get("/v1/lots")).status, 503);
    assert_eq!(other.call(&ready).status, 200);
    assert_eq!(other.call(&Request::get("/v1/lots")).status, 200);
}
