//! Taking packs out of the drawer, and giving them back.

use etui_craft::drawer::{
    self, CODE_HELD, EXPIRY_UNKNOWN, FlagCode, Known, Misfit, PackSays, STERILITY_UNKNOWN, Standing,
};
use etui_craft::label::{Candidate, FitnessReason, FitnessState, Policy, Printed, Reading};
use etui_craft::refusal::Refusal;
use etui_schema::lots::{LotQuestion, LotState};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::treatments::{Flag, OpenedPack, PackUse};
use etui_schema::vocabulary::Reference;
use jiff::civil::Date;
use uuid::Uuid;

use super::flags::flag;
use super::{is_serial, is_used, used_before};
use crate::store::{Batch, Bytes};
use crate::studio::Studio;
use crate::studio::branches::{Days, named};
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::lots::{self, Notices, StoredLot};
use crate::studio::moment::Mandate;

/// A lot that packs are drawn from or given back to, as it was.
struct Touched {
    lot: StoredLot,
    bytes: Bytes,
    drawn: u32,
    given_back: u32,
    /// Whether another maker's lot of the same code was ever received; one that cannot
    /// be read may be another maker's.
    shares_code: bool,
    /// Codes that packs of it were seen to have, and that it was not known by.
    learned: Vec<String>,
    /// Whether a pack was used although its own label forbids it: the others may be the same.
    is_doubted: bool,
}

/// What is taken out of the drawer.
pub(in crate::studio) struct Drawn {
    lots: Vec<Touched>,
    packs: Vec<PackUse>,
    /// The packs whose own label asks something.
    asked: Vec<usize>,
    /// Those whose own label forbids their use.
    forbidden: Vec<usize>,
    /// Which of the packs tell a code themselves.
    coded: Vec<usize>,
    days: Days,
}

/// What a pack's own label says.
#[derive(Default)]
struct Looked {
    faults: Vec<Fault>,
    /// The codes on it.
    codes: Vec<String>,
    /// Whether something on it may say that it is not to be used, or could not be read.
    asks: bool,
    /// Whether it forbids the use.
    forbids: bool,
}

/// Looks at every pack; names each that may not be used. The packs lie in the
/// request at the pointer that is given with them.
pub(in crate::studio) async fn from_drawer(
    studio: &Studio,
    snap: &mut Snap,
    (days, mandate): (Days, &Mandate),
    (base, packs): (&str, &[PackUse]),
) -> Result<Drawn, Error> {
    let mut drawn = Drawn {
        lots: Vec::new(),
        packs: Vec::new(),
        asked: Vec::new(),
        forbidden: Vec::new(),
        coded: Vec::new(),
        days,
    };
    let mut faults = Vec::new();
    for (at, pack) in packs.iter().enumerate() {
        let place = format!("{base}/{at}");
        match drawn.touch(snap, pack.lot_id).await {
            Ok(touched) if mandate.reaches_branch(touched.lot.branch_ref.as_ref()) => {
                touched.drawn += 1;
            }
            // To a token of other branches it is not there.
            Ok(_) | Err(Error::NotFound { .. }) => {
                faults.push(
                    Fault::new(
                        format!("{place}/lot_id"),
                        FaultCode::UnknownReference,
                        "there is no such lot in the drawer",
                    )
                    .means(Refusal::LotUnknown),
                );
                continue;
            }
            Err(error) => return Err(error),
        }
        let Some(lot) = drawn.lot(pack.lot_id).cloned() else { continue };
        let day = drawn.days.of(lot.branch_ref.as_ref());
        let mut pack = pack.clone();
        let looked = misfits(studio, &lot, day, &place, &mut pack);
        faults.extend(looked.faults);
        if pack.used_although.is_none() {
            faults.extend(objection(&lot, day, &place, &pack));
        }
        if !looked.codes.is_empty() {
            drawn.coded.push(at);
        }
        for code in looked.codes {
            if lot.is_known_by(&code) {
                continue;
            }
            if pack.used_although.is_none() {
                let notices = Notices::all(snap).await?;
                let back = lots::called_back(snap, &notices, &lot, &code).await?;
                faults.extend(back.map(|_| recalled(&place)));
            }
            drawn.learn(lot.id, code);
        }
        if looked.asks {
            drawn.asked.push(at);
        }
        if looked.forbids {
            drawn.forbidden.push(at);
            drawn.doubt(lot.id);
        }
        if let Some(serial) = &pack.serial {
            let same = |other: &PackUse| {
                let its = other.serial.as_ref().filter(|_| other.lot_id == pack.lot_id);
                its.is_some_and(|its| is_serial(serial, its))
            };
            if drawn.packs.iter().any(same) || is_used(snap, lot.lot.as_deref(), serial).await? {
                faults.push(used_before(&place));
            }
        }
        drawn.packs.push(pack);
    }
    if faults.is_empty() { drawn.enough().map(|()| drawn) } else { Err(Error::Refused(faults)) }
}

/// What the pack's own label says that does not fit the lot, or that forbids
/// its use; a serial number that only the label tells is taken over.
fn misfits(studio: &Studio, lot: &StoredLot, day: Date, place: &str, pack: &mut PackUse) -> Looked {
    if pack.text.is_none() && pack.symbol.is_none() {
        return Looked::default();
    }
    let printed = Printed { text: pack.text.as_deref(), symbol: pack.symbol.as_deref() };
    let Reading { packet, fitness, candidates, .. } =
        studio.craft.reader.read(&printed, day, Policy::default());
    let says = PackSays {
        lot: packet.lot.as_ref().map(|said| said.value.as_str()),
        gtin: packet.gtin.as_ref().map(|said| said.value.as_str()),
        reference: packet.reference.as_ref().map(|said| said.value.as_str()),
        expires_on: packet.expires_on.as_ref().map(|said| said.date),
    };
    let held = PackSays {
        lot: lot.lot.as_deref(),
        gtin: lot.gtin.as_deref(),
        reference: lot.reference.as_deref(),
        expires_on: lot.expires_on.map(|day| day.0),
    };
    let pointer = format!("{place}/{}", if pack.symbol.is_some() { "symbol" } else { "text" });
    let differs = |misfit: Misfit| {
        let Misfit { what, pack, lot } = misfit;
        let why = format!("the pack says {what} {pack}, the lot in the drawer {lot}");
        Fault::new(pointer.clone(), FaultCode::Contradiction, why).means(Refusal::PackDiffers)
    };
    // What stands on the lot as well was settled with it.
    let is_of_lot = pack.text == lot.text && pack.symbol == lot.symbol;
    let (needle, mut asks) = other_needle(lot, &candidates);
    // What tells neither lot nor article nor needle does not show that the pack is of the lot.
    asks |= candidates.is_empty() && says.lot.or(says.gtin).or(says.reference).is_none();
    let misfits = drawer::misfits(&says, &held);
    let mut faults: Vec<Fault> =
        misfits.into_iter().chain(needle.filter(|_| !is_of_lot)).map(differs).collect();
    let forbidding = || fitness.reasons().filter(|reason| reason.state() == FitnessState::Unfit);
    if pack.used_although.is_none() {
        faults.extend(forbidding().map(|reason| {
            let why = format!(
                "the pack's own label forbids its use: {}; if it was used all the same, say why in `used_although`",
                reason.as_str()
            );
            Fault::new(pointer.clone(), FaultCode::NotAllowed, why).means(Refusal::PackForbidden)
        }));
    }
    pack.serial = pack.serial.take().or(packet.serial.map(|said| said.value));
    asks |= fitness.reasons().any(|reason| {
        matches!(
            reason,
            FitnessReason::NotForUse
                | FitnessReason::StruckOut
                | FitnessReason::ExpiryUnreadable
                | FitnessReason::LabelConflict
                | FitnessReason::LotUnreadable
                | FitnessReason::SymbolFaulty
                | FitnessReason::SwallowedSeparator
        )
    });
    let codes = packet.lot.map(|said| said.value).into_iter().chain(packet.other_lots).collect();
    let forbids = forbidding().next().is_some() && !is_of_lot;
    Looked { faults, codes, asks: asks && !is_of_lot, forbids }
}

/// What needle a pack is of if it is not the lot's by any reading, and whether it is not by one.
fn other_needle(lot: &StoredLot, readings: &[Candidate]) -> (Option<Misfit>, bool) {
    let Some(held) = lot.configuration else { return (None, false) };
    let differs = |read: &&Candidate| drawer::differs(&read.configuration, &held);
    let others = readings.iter().filter(differs).count();
    let first = readings.first().filter(|_| others == readings.len());
    let misfit =
        |read: &Candidate| Misfit { what: "needle", pack: read.canonical(), lot: held.canonical() };
    (first.map(misfit), 0 < others)
}

fn recalled(place: &str) -> Fault {
    let why = "the lot was recalled; if it was used all the same, say why in `used_although`";
    Fault::new(format!("{place}/lot_id"), FaultCode::NotAllowed, why).means(Refusal::LotRecalled)
}

/// Why a pack of this lot may not be used on this day. What is only to be
/// confirmed is no objection: the record must be true, and is flagged.
fn objection(lot: &StoredLot, day: Date, place: &str, pack: &PackUse) -> Option<Fault> {
    let refuse = |member: &str, why: String| {
        Fault::new(
            format!("{place}/{member}"),
            FaultCode::NotAllowed,
            format!("{why}; if it was used all the same, say why in `used_although`"),
        )
    };
    let Standing { state, reasons, questions: _ } = lot.standing(day);
    match state {
        LotState::Recalled => Some(recalled(place)),
        LotState::Expired => {
            let last = lot.expires_on.map_or_else(String::new, |last| format!(" on {last}"));
            let fault = refuse("lot_id", format!("the lot expired{last}"));
            let means = lot.expires_on.map(|last| Refusal::LotExpired.of_day(last.0));
            Some(Fault { means, ..fault })
        }
        LotState::Held if reasons.iter().any(|reason| drawer::keeps_aside(reason)) => {
            let fault = refuse("lot_id", format!("the lot is held: {}", reasons.join(", ")));
            Some(fault.means(Refusal::LotHeld))
        }
        LotState::Held | LotState::Empty | LotState::Usable if !pack.intact => {
            let fault = refuse("intact", "a damaged or opened pack is waste".to_owned());
            Some(fault.means(Refusal::PackDamaged))
        }
        LotState::Held | LotState::Empty | LotState::Usable => None,
    }
}

/// What is not known of a pack, one flag for each.
fn unknowns(lot: &StoredLot, day: Date, place: &str) -> Vec<Flag> {
    let known = lot.known();
    // Packs that are gone leave the same questions.
    let reasons = drawer::standing(&Known { packs: known.packs.max(1), ..known }, day).reasons;
    let of = |reason: &String| {
        let question = drawer::question(reason)?;
        let code = match (question, reason.as_str()) {
            (_, EXPIRY_UNKNOWN) => FlagCode::PackExpiryUnknown,
            (_, STERILITY_UNKNOWN) => FlagCode::PackSterilityUnknown,
            (LotQuestion::Configuration, _) => FlagCode::PackConfigurationOpen,
            // Whoever used it said why, and that is flagged.
            (_, reason) if drawer::keeps_aside(reason) => return None,
            (
                LotQuestion::Expiry
                | LotQuestion::Sterility
                | LotQuestion::Lot
                | LotQuestion::Print
                | LotQuestion::Hand,
                _,
            ) => FlagCode::PackToBeConfirmed,
        };
        Some(flag(place, code))
    };
    match lot.standing(day).state {
        LotState::Recalled | LotState::Expired => Vec::new(),
        LotState::Held | LotState::Empty | LotState::Usable => {
            reasons.iter().filter_map(of).collect()
        }
    }
}

impl Drawn {
    async fn touch(&mut self, snap: &mut Snap, id: Uuid) -> Result<&mut Touched, Error> {
        let at = match self.lots.iter().position(|touched| touched.lot.id == id) {
            Some(at) => at,
            None => {
                let (lot, bytes) = lots::load(snap, id).await?;
                let shares_code = shares_code(snap, &lot).await?;
                let (drawn, given_back, learned, is_doubted) = (0, 0, Vec::new(), false);
                self.lots.push(Touched {
                    lot,
                    bytes,
                    drawn,
                    given_back,
                    shares_code,
                    learned,
                    is_doubted,
                });
                self.lots.len() - 1
            }
        };
        Ok(&mut self.lots[at])
    }

    /// A pack of this lot was not opened after all. Lots that are gone from the
    /// drawer take none back.
    pub(in crate::studio) async fn give_back(
        &mut self,
        snap: &mut Snap,
        id: Uuid,
    ) -> Result<(), Error> {
        match self.touch(snap, id).await {
            Ok(touched) => touched.given_back += 1,
            Err(Error::NotFound { .. }) => {}
            Err(error) => return Err(error),
        }
        Ok(())
    }

    fn enough(&self) -> Result<(), Error> {
        match self.lots.iter().find(|touched| touched.lot.packs < touched.drawn) {
            None => Ok(()),
            Some(Touched { lot, drawn, .. }) => Err(Error::conflict(format!(
                "the lot {} holds {} packs, {drawn} are wanted; draw from another lot or adjust the count",
                lot.id, lot.packs
            ))
            .means(Refusal::LotShort.count(lot.packs))),
        }
    }

    /// Keeps with a lot that packs of it have this code.
    fn learn(&mut self, id: Uuid, code: String) {
        if let Some(touched) = self.lots.iter_mut().find(|touched| touched.lot.id == id)
            && !touched.learned.contains(&code)
        {
            touched.learned.push(code);
        }
    }

    /// Keeps with a lot that a pack of it says that it is not to be used.
    fn doubt(&mut self, id: Uuid) {
        let touched = self.lots.iter_mut().find(|touched| touched.lot.id == id);
        touched.into_iter().for_each(|touched| touched.is_doubted = true);
    }

    /// The days by which the packs were judged.
    pub(in crate::studio) const fn days(&self) -> &Days {
        &self.days
    }

    /// A lot that packs are drawn from.
    fn lot(&self, id: Uuid) -> Option<&StoredLot> {
        self.lots.iter().map(|touched| &touched.lot).find(|lot| lot.id == id)
    }

    /// Adds to a batch that the packs are gone, or back.
    pub(in crate::studio) fn leave(&self, mut batch: Batch) -> Result<Batch, Error> {
        for Touched { lot, bytes, drawn, given_back, shares_code: _, learned, is_doubted } in
            &self.lots
        {
            let mut next = lot.clone();
            next.packs = lot.packs.saturating_sub(*drawn).saturating_add(*given_back);
            next.other_codes.extend(learned.iter().cloned());
            if *is_doubted {
                next.hold(CODE_HELD);
            }
            next.version += 1;
            batch = lots::replace(batch, Some((lot, bytes.clone())), &next)?;
        }
        Ok(batch)
    }

    /// The packs with what their lots say.
    pub(in crate::studio) fn opened(&self) -> Vec<OpenedPack> {
        self.packs.iter().map(|pack| self.opened_one(pack.clone())).collect()
    }

    fn opened_one(&self, pack: PackUse) -> OpenedPack {
        let PackUse { lot_id, intact, text, symbol, serial, site, used_although } = pack;
        let lot = self.lot(lot_id);
        OpenedPack {
            lot_id,
            lot: lot.and_then(|lot| lot.lot.clone()),
            maker: lot.and_then(|lot| lot.maker.clone()),
            reference: lot.and_then(|lot| lot.reference.clone()),
            expires_on: lot.and_then(|lot| lot.expires_on),
            serial,
            configuration: lot.and_then(|lot| lot.configuration),
            canonical: lot.and_then(|lot| lot.configuration).map(|c| c.canonical()),
            intact,
            text,
            symbol,
            site,
            used_although,
            struck_in: None,
        }
    }

    /// What about the packs wants a second look. The first of them lies at the
    /// place that is given.
    pub(in crate::studio) fn flags(&self, first: usize, branch: Option<&Reference>) -> Vec<Flag> {
        let mut flags = Vec::new();
        for (at, pack) in self.packs.iter().enumerate() {
            let touched = self.lots.iter().find(|touched| touched.lot.id == pack.lot_id);
            let Some(Touched { lot, shares_code, .. }) = touched else { continue };
            let place = format!("#/packs/{}", first + at);
            flags.extend(self.although(lot, &place, pack));
            if self.forbidden.contains(&at) {
                let member = if pack.symbol.is_some() { "symbol" } else { "text" };
                flags.push(flag(format!("{place}/{member}"), FlagCode::UsedAlthoughForbidden));
            }
            // The packet in her hand is what it is: it is told, and not refused.
            if named(branch).is_some() && named(branch) != named(lot.branch_ref.as_ref()) {
                flags.push(flag(format!("{place}/lot_id"), FlagCode::PackOfAnotherBranch));
            }
            let mut unknowns = unknowns(lot, self.days.of(lot.branch_ref.as_ref()), &place);
            let asks = flag(&*place, FlagCode::PackToBeConfirmed);
            if self.asked.contains(&at) && !unknowns.contains(&asks) {
                unknowns.push(asks);
            }
            flags.extend(unknowns);
            if lot.lot.is_none() && !self.coded.contains(&at) {
                flags.push(flag(&*place, FlagCode::LotCodeUnknown));
            }
            if *shares_code {
                flags.push(flag(place, FlagCode::LotCodeShared));
            }
        }
        flags
    }

    fn although(&self, lot: &StoredLot, place: &str, pack: &PackUse) -> Option<Flag> {
        let day = self.days.of(lot.branch_ref.as_ref());
        let fault = objection(lot, day, place, pack)?;
        let code = match lot.standing(day).state {
            _ if !pack.intact => FlagCode::UsedAlthoughDamaged,
            LotState::Recalled => FlagCode::UsedAlthoughRecalled,
            LotState::Expired => FlagCode::UsedAlthoughExpired,
            LotState::Held => FlagCode::UsedAlthoughHeld,
            LotState::Usable | LotState::Empty => return None,
        };
        Some(flag(fault.pointer, code))
    }
}

/// Whether another maker's lot of the same code was ever received; one that cannot
/// be read may be another maker's.
async fn shares_code(snap: &mut Snap, lot: &StoredLot) -> Result<bool, Error> {
    let Some(code) = &lot.lot else { return Ok(false) };
    let others = lots::with_code(snap, code).await?;
    let other_maker = |other: &StoredLot| match (&other.maker, &lot.maker) {
        (Some(theirs), Some(ours)) => !theirs.eq_ignore_ascii_case(ours),
        _ => false,
    };
    let read = others.read.iter().any(|(other, _)| other.id != lot.id && other_maker(other));
    Ok(read || others.unreadable.iter().any(|id| *id != lot.id))
}
