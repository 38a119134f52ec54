//! The words of the chair and the drawer: what is seen on the skin while
//! working, how far work stops, what a lot of packs is worth.

use super::words;

words! {
    /// Whether packs of a lot may be used.
    LotState, "lot state" {
        /// In date and in the drawer.
        Usable = "usable",
        /// Kept aside: something about it has to be settled first.
        Held = "held",
        /// Past its expiry date.
        Expired = "expired",
        /// Called back by its maker or an authority.
        Recalled = "recalled",
        /// No pack left.
        Empty = "empty",
    }
}

words! {
    /// A sign seen on the skin while working.
    TraumaSign, "sign" {
        /// Single pinpoints of blood.
        PinpointBleeding = "pinpoint_bleeding",
        /// Blood that runs or does not stop.
        HeavyBleeding = "heavy_bleeding",
        /// Clear fluid: the skin weeps.
        Weeping = "weeping",
        /// The surface is shredded or chewed.
        Shredded = "shredded",
        /// Swelling beyond the usual.
        Swelling = "swelling",
        /// A bruise forms.
        Bruising = "bruising",
        /// Redness that spreads or is hot.
        SpreadingRedness = "spreading_redness",
        /// Pain beyond what is usual for this client.
        StrongPain = "strong_pain",
        /// The skin takes no pigment.
        PoorUptake = "poor_uptake",
        /// Pigment spreads under the skin.
        Blowout = "blowout",
    }
}

words! {
    /// How far work stops; the milder first.
    StopScope, "scope of a stop" {
        /// The spot is finished for today; the rest of the area may go on.
        Spot = "spot",
        /// The session ends here.
        Session = "session",
    }
}

words! {
    /// What a person settles about packs.
    LotQuestion, "question about packs" {
        /// The last day of use.
        Expiry = "expiry",
        /// Whether the packs are sterile.
        Sterility = "sterility",
        /// Diameter, count and grouping.
        Configuration = "configuration",
        /// The lot code: a recall may be meant for them.
        Lot = "lot",
        /// Which is right where print and symbol disagree or are faulty.
        Print = "print",
        /// Why somebody put them aside.
        Hand = "hand",
    }
}
