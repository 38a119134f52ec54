//! The drawer: whether the packs of a lot may be used on a day, who settles
//! what is open, and which packs a lot or a notice means.
//!
//! What a lot is worth is worked out from what is *known* of it: recalled
//! before expired before empty before held before usable. It is usable only if
//! its last day of use, its sterility and its configuration are known and
//! nothing else is open. A fact that is missing holds it as much as one that is
//! in doubt, so nothing becomes better by being forgotten ([`standing`]).
//!
//! What is open is settled by a person who is named ([`settle`]), for this lot
//! or, as a supplier's habit, for all that come from there ([`Habit`]). What
//! forbids the use outright (not sterile, damaged, past its date, called back)
//! is settled by nobody. A day that was said is never later than the print
//! allows.
//!
//! | module | holds |
//! |---|---|
//! | `beside` | what deliveries of one code say of each other |
//! | `standing` | state, reasons and open questions of a lot on a day |
//! | `settle` | what a person's word settles, and what it cannot |
//! | `habit` | a supplier's habits, and which lots they speak of |
//! | `says` | what is said of lots that a choice passes over, and of what a treatment took |
//! | `code` | what a person types for a lot code |
//! | `fits` | a pack held against its lot, a lot against a notice |

mod beside;
mod code;
mod fits;
mod habit;
mod says;
mod settle;
mod standing;
#[cfg(test)]
mod tests;

pub use beside::{asked_beside, kept_out, speaks_against};
pub use code::{CodeFault, code_fault};
pub use fits::{
    Misfit, PackSays, before_serial, code_as_meant, differs, is_but_for_serial, meant, misfits,
    same_maker,
};
pub use habit::{Habit, leaves_sterility_unsaid};
pub use says::{FlagCode, Sentences};
pub use settle::{Said, Settled, Unsettled, settle};
pub use standing::{
    CODE_HELD, CONFIGURATION_OPEN, EXPIRY_DIFFERS, EXPIRY_UNKNOWN, HELD_BY_HAND, Known,
    NOT_STERILE, RECALL_POSSIBLE, STERILITY_UNKNOWN, Standing, forbids, keeps_aside, open,
    question, standing,
};
