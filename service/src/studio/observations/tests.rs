//! Laws of what stands: what was said once is not unsaid by saying less.

use etui_craft::selection::Selector;
use etui_schema::vocabulary::{Address, Treatment};
use proptest::prelude::*;

use super::super::craft::Craft;
use super::*;

/// One thing that is seen, and where.
type Seen = (TraumaSign, Option<ReviewZone>);

const TAIL: Option<ReviewZone> = Some(ReviewZone::BrowTail);
const FRONT: Option<ReviewZone> = Some(ReviewZone::BrowFront);
const WHOLE: Option<ReviewZone> = Some(ReviewZone::Whole);

fn craft() -> &'static Craft {
    static CRAFT: std::sync::LazyLock<Craft> =
        std::sync::LazyLock::new(|| Craft::load(Address::Sie).unwrap());
    &CRAFT
}

/// What is answered to each of what is seen on brows, one after the other.
fn answers(all: &[Seen]) -> Vec<(bool, Option<StopScope>)> {
    let craft = craft();
    let mut before: Vec<Observation> = Vec::new();
    for ((sign, place), id) in all.iter().zip(1_u128..) {
        let signs = [*sign];
        let request = ObservationRequest {
            at: None,
            signs: signs.to_vec(),
            pack: None,
            place: *place,
            note: None,
        };
        let (spot, earlier) = still(&craft.selector, &request, &before);
        let earlier = earlier.as_ref().map(|(signs, place)| Earlier { signs, place: *place });
        let trauma = Trauma {
            signs: &signs,
            place: spot,
            earlier,
            current: None,
            effect_told: false,
            spoilt: false,
        };
        let setting = Setting::default();
        let asked = Request {
            treatment: Treatment::Brows,
            effect: Effect::SoftShading,
            setting: &setting,
            candidates: &[],
            limit: 1,
            folds: false,
            language: Language::En,
        };
        let advice = craft.selector.on_trauma(&craft.model, &asked, &trauma).unwrap();
        before.push(Observation {
            id: Uuid::from_u128(id),
            treatment_id: Uuid::nil(),
            at: Instant(jiff::Timestamp::UNIX_EPOCH),
            signs: signs.to_vec(),
            place: *place,
            in_use: None,
            note: None,
            stop: advice.stop,
            stop_scope: advice.scope.map(Into::into),
            steps: Vec::new(),
            cautions: Vec::new(),
        });
    }
    let scope = |one: &Observation| one.stop_scope.as_ref().and_then(|scope| scope.known());
    before.iter().map(|one| (one.stop, scope(one))).collect()
}

fn finishes(sign: TraumaSign) -> bool {
    let selector: &Selector = &craft().selector;
    selector.finishes_spot(sign)
}

#[test]
fn of_a_second_spot_nobody_said_that_it_is_the_first() {
    use TraumaSign::{Bruising, PinpointBleeding, PoorUptake, StrongPain, Swelling, Weeping};
    let (spot, ends) = ((false, Some(StopScope::Spot)), (true, Some(StopScope::Session)));
    let on = (false, None);
    for (first, then, now, want) in [
        (PinpointBleeding, None, (PinpointBleeding, None), ends),
        (PinpointBleeding, TAIL, (PinpointBleeding, None), ends),
        (PinpointBleeding, None, (PinpointBleeding, TAIL), ends),
        (PinpointBleeding, TAIL, (PinpointBleeding, FRONT), ends),
        (PinpointBleeding, TAIL, (PinpointBleeding, TAIL), on),
        (PinpointBleeding, None, (Swelling, None), on),
        (StrongPain, None, (StrongPain, None), ends),
        (PoorUptake, None, (PoorUptake, None), on),
        (Weeping, None, (Weeping, None), ends),
        // That is the answer to the question where it is.
        (Weeping, None, (Weeping, TAIL), spot),
        (Weeping, TAIL, (Weeping, None), ends),
        (Weeping, TAIL, (Bruising, FRONT), ends),
        (Weeping, TAIL, (Bruising, TAIL), spot),
        (Weeping, TAIL, (Bruising, None), ends),
        (Weeping, None, (Bruising, TAIL), ends),
        (Weeping, TAIL, (PinpointBleeding, FRONT), on),
    ] {
        let found = answers(&[(first, then), now]);
        assert_eq!(found.last(), Some(&want), "{first} {then:?}, {now:?}: {found:?}");
    }
}

fn seen() -> impl Strategy<Value = Seen> {
    use TraumaSign::{Bruising, HeavyBleeding, PinpointBleeding, PoorUptake, Swelling, Weeping};
    let signs = vec![PinpointBleeding, Swelling, Weeping, Bruising, PoorUptake, HeavyBleeding];
    let places = vec![None, None, TAIL, TAIL, FRONT, WHOLE];
    (prop::sample::select(signs), prop::sample::select(places))
}

proptest! {
    /// Not to say at which spot is never better, but where a spot that was asked for is named next.
    #[test]
    fn a_place_that_is_not_told_lets_nothing_go_on(all in prop::collection::vec(seen(), 1..6), at in any::<prop::sample::Index>()) {
        let at = at.index(all.len());
        let is_asked = at + 1 < all.len() && finishes(all[at].0);
        prop_assume!(!is_asked && all[at].1 != WHOLE);
        let mut untold = all.clone();
        untold[at].1 = None;
        prop_assert!(answers(&all).last() <= answers(&untold).last(), "{all:?} {at}");
    }

    /// A session that ended stays ended, and to see more lets nothing go on, unless it says where a
    /// spot is.
    #[test]
    fn more_that_is_seen_lets_nothing_go_on(all in prop::collection::vec(seen(), 1..6), more in seen(), at in any::<prop::sample::Index>()) {
        let found = answers(&all);
        let is_end = |(_, scope): &(bool, Option<StopScope>)| *scope == Some(StopScope::Session);
        let end = found.iter().position(is_end).unwrap_or(found.len());
        prop_assert!(found[end..].iter().all(is_end), "{all:?} {found:?}");
        let says_where = more.1.is_some() && finishes(more.0);
        prop_assume!(!says_where);
        let mut longer = all.clone();
        longer.insert(at.index(all.len()), more);
        prop_assert!(found.last() <= answers(&longer).last(), "{all:?} {more:?}");
    }

    /// Two spots that are finished, wherever they are not told to be one, end the session.
    #[test]
    fn two_finished_spots_end_the_session(mut all in prop::collection::vec(seen(), 0..4), weeps_first in any::<bool>(), front in any::<bool>()) {
        let (one, other) = (TraumaSign::Weeping, TraumaSign::Bruising);
        let (one, other) = if weeps_first { (one, other) } else { (other, one) };
        all.push((one, TAIL));
        all.push((other, if front { FRONT } else { None }));
        let last = answers(&all).pop();
        prop_assert_eq!(last, Some((true, Some(StopScope::Session))));
    }
}
