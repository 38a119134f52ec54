//! The rows against a walk over every lot, and the number of the rule.

use proptest::prelude::*;
use sha2::{Digest, Sha256};

use super::*;
use crate::store::StoreConfig;
use crate::store::database::Entry;
use crate::store::record::hex;
use crate::studio::lots::{replace, tests::former as first};

/// Spellings of few codes; the last two differ only where rows no longer say it.
fn spelling(at: usize) -> String {
    const SPELLED: [&str; 9] =
        ["B7", "b 7", "LOT B-7", "\u{412}7", "B8", "--", "++", "", "Charge: b8"];
    let long = format!("{}{}", "X".repeat(CODE_CHARS), at % 2);
    SPELLED.get(at).map_or(long, |code| (*code).to_owned())
}
const SPELLINGS: usize = 11;

fn lot(n: u128, code: Option<usize>, part_of: Option<Uuid>) -> StoredLot {
    let lot = code.map(spelling);
    StoredLot { id: Uuid::from_u128(n), lot, part_of, ..first(None, None, false) }
}

/// What happens to the drawer: a lot comes, somebody tells another code, packs are moved apart.
#[derive(Debug, Clone)]
enum Step {
    Come(Option<usize>),
    Name(usize, usize),
    Part(usize),
    /// A former build writes a lot: it knows nothing of these rows.
    Former(usize),
    Start,
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let code = 0..SPELLINGS;
    let step = prop_oneof![
        3 => prop::option::of(code.clone()).prop_map(Step::Come),
        3 => (any::<usize>(), code).prop_map(|(at, code)| Step::Name(at, code)),
        2 => any::<usize>().prop_map(Step::Part),
        1 => any::<usize>().prop_map(Step::Former),
        1 => Just(Step::Start),
    ];
    prop::collection::vec(step, 1..24)
}

/// The drawer as a list.
type Drawer = Vec<StoredLot>;

async fn held(engine: &Engine, lot: &StoredLot) -> Bytes {
    let mut snap = engine.snapshot().await.unwrap();
    snap.get(LOTS, lot.id.as_bytes()).await.unwrap().unwrap()
}

async fn take(engine: &Engine, drawer: &mut Drawer, step: Step) {
    let next = u128::try_from(drawer.len()).unwrap() + 1;
    let at = |n: usize| n % drawer.len();
    let (place, after) = match step {
        Step::Come(code) => (None, lot(next, code, None)),
        _ if drawer.is_empty() => return,
        Step::Name(n, code) => {
            let mut named = drawer[at(n)].clone();
            named.other_codes.extend(named.lot.replace(spelling(code)));
            (Some(at(n)), named)
        }
        Step::Part(n) => {
            let of = &drawer[at(n)];
            (
                None,
                StoredLot { id: Uuid::from_u128(next), part_of: Some(of.delivery()), ..of.clone() },
            )
        }
        Step::Former(n) => {
            let of = &drawer[at(n)];
            let mut batch = replace(Batch::new(), None, of).unwrap();
            batch.expect.clear();
            for op in &mut batch.ops {
                *op = match op.clone() {
                    Op::Put(space, row, _) if space == ALIKE.space() => Op::Del(space, row),
                    Op::Put(space, row, _) if space == BY_EXPIRY.space() => {
                        Op::Put(space, row, Bytes::new())
                    }
                    other @ (Op::Put(..) | Op::Del(..)) => other,
                };
            }
            engine.commit(batch).await.unwrap();
            bring_up_to_date(engine).await.unwrap();
            return;
        }
        Step::Start => {
            assert_eq!(bring_up_to_date(engine).await.unwrap(), 0, "all is of this rule");
            return;
        }
    };
    let before = match place {
        Some(place) => Some((&drawer[place], held(engine, &drawer[place]).await)),
        None => None,
    };
    engine.commit(replace(Batch::new(), before, &after).unwrap()).await.unwrap();
    match place {
        Some(place) => drawer[place] = after,
        None => drawer.push(after),
    }
}

fn ids<'l>(lots: impl IntoIterator<Item = &'l StoredLot>) -> Vec<Uuid> {
    lots.into_iter().map(|lot| lot.id).collect()
}

fn read(lots: &[(StoredLot, Bytes)]) -> Vec<Uuid> {
    ids(lots.iter().map(|(lot, _)| lot))
}

async fn compare(engine: &Engine, drawer: &Drawer) {
    let snap = &mut engine.snapshot().await.unwrap();
    for code in (0..SPELLINGS).map(spelling) {
        let meant = drawer::code_as_meant(&code);
        let is_meant = |lot: &&StoredLot| lot.codes().any(|it| drawer::code_as_meant(it) == meant);
        let found = meant_by(snap, &code).await.unwrap();
        assert_eq!(read(&found.read), ids(drawer.iter().filter(is_meant)), "{code}");
        assert!(found.unreadable.is_empty(), "{code}");
    }
    let uncoded = drawer.iter().filter(|lot| lot.lot.is_none());
    assert_eq!(read(&without_code(snap).await.unwrap()), ids(uncoded), "without a code");
    for lot in drawer {
        let with = |other: &&StoredLot| other.delivery() == lot.delivery() && other.id != lot.id;
        let parts = parts_of(snap, &[(lot.clone(), Bytes::new())]).await.unwrap();
        assert_eq!(read(&parts), ids(drawer.iter().filter(with)), "parts of {}", lot.id);
    }
}

fn run(work: impl AsyncFnOnce(Engine)) {
    let folder = tempfile::tempdir().unwrap();
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        let config = StoreConfig { min_free_bytes: 0, ..StoreConfig::new(folder.path()) };
        let engine = Engine::open(config, None, Entry::Alone).await.unwrap().0;
        work(engine).await;
    });
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(24)))]

    /// Law: what the rows find is what a walk over every lot finds, whatever was done and by
    /// whichever build.
    #[test]
    fn the_rows_find_what_a_walk_finds(steps in steps()) {
        run(async |engine| {
            let mut drawer = Drawer::new();
            for step in steps {
                take(&engine, &mut drawer, step).await;
                compare(&engine, &drawer).await;
            }
        });
    }
}

#[test]
fn what_cannot_be_read_is_found_under_its_codes_after_a_start() {
    run(async |engine| {
        let lot = lot(1, Some(0), None);
        engine.commit(replace(Batch::new(), None, &lot).unwrap()).await.unwrap();
        let mut batch = Batch::new().put(LOTS, lot.id.as_bytes(), "broken");
        batch.ops.extend(rows(&lot).into_iter().map(|(space, row)| Op::Del(space, row)));
        let expiry = BY_EXPIRY.row(&(jiff::civil::Date::MAX, lot.id)).1;
        engine.commit(batch.put(BY_EXPIRY.space(), expiry, "")).await.unwrap();
        assert_eq!(bring_up_to_date(&engine).await.unwrap(), 1);
        let found = meant_by(&mut engine.snapshot().await.unwrap(), "b-7").await.unwrap();
        assert_eq!((found.read.len(), found.unreadable), (0, vec![lot.id]));
    });
}

/// What every letter comes to in a code is what it was under this rule.
#[test]
fn the_rule_is_the_one_of_its_number() {
    let mut all = Sha256::new();
    for letter in (0..0x1_F000).filter_map(char::from_u32) {
        all.update(short(&format!("A{letter}1")));
        all.update([0]);
    }
    for at in 0..SPELLINGS {
        all.update(rows(&lot(1, Some(at), Some(Uuid::nil()))).len().to_be_bytes());
        all.update(short(&spelling(at)));
        all.update([0]);
    }
    let digest = hex(&all.finalize());
    let why = "codes are meant otherwise now: raise `RULE`, so that rows are made anew, and say the digest";
    assert_eq!((RULE, &digest[..16]), (&b"2"[..], "199b288b4ca07f22"), "{why}");
}
