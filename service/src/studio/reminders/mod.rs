//! Reminders: the messages of an aftercare plan, each sent once.
//!
//! They are written in the batch of the treatment they belong to. A script
//! claims what is due for a time (the lease), sends it, and reports. What was
//! not reported when the lease ends can be claimed again and says so
//! (`maybe_sent`), so a script that dies costs nobody a message. What no longer
//! makes sense is closed as overtaken when somebody comes to claim it.
//!
//! ```text
//! scheduled ──claim──▶ leased ──delivered/failed/skipped──▶ closed
//!     ▲                   │ lease ran out: claimed again
//!     └── failed, retry ──┘
//! scheduled, leased ──latest has passed──▶ overtaken
//! scheduled, leased ──a later session────▶ cancelled
//! scheduled, leased ──the record is struck─▶ cancelled
//! ```
//!
//! While a symptom report of level `artist` or above is open, the skin was last
//! seen unhealed or worse, or a session was stopped for bleeding and no smooth skin
//! was seen since, what invites, announces a milestone or says that all looks as it
//! should is `paused`: no claim gets it. What is to be done, avoided or watched goes
//! on. When nothing of that is left, what was paused is scheduled again, or overtaken.
//!
//! After a restore what was due may have been sent by the store that was lost. It is
//! marked so, and, if the studio wants that, `held` until a person releases it: no
//! claim gets it, and none closes it.
//!
//! That the client wants none, told of one message, holds the others until a release (`unwanted`); it
//! outlasts the messages.
//!
//! What comes to be claimed while it is night where she is (a failure that is tried again, a lease that
//! ended, what was claimed late) is due in the morning, in the order in which it was due.
//!
//! When the date of a treatment is put right, its reminders move with it.
//!
//! That a message went out is a fact and is always taken, late or not; that it
//! did not is only taken from whoever holds the lease, but that she wants none.
//!
//! | space | key | value |
//! |---|---|---|
//! | `reminders-by-due` | state, due at, id | state, times, references; key and text sealed |
//! | `reminders-by-id` | id | key of the record |
//! | `reminders-by-lease` | lease's end, id | key of the record |
//! | `reminder-claims` | when made, claim id | ids, for a repeat; of former builds |
//! | `message-stops` | client's pseudonym | whether she wants messages, and since when |
//!
//! The records themselves lie in the order in which they are due, so that a page
//! of them is read from one place, however many there are.
//!
//! The id of a reminder follows from treatment and step, so writing a plan a
//! second time can never make a second reminder. It begins with the time in the
//! treatment's id, so all of a treatment lie together by id.

mod alarm;
mod claim;
mod doubtful;
mod former;
mod given;
mod held;
mod list;
mod outcome;
mod release;
mod remove;
mod said;
mod schedule;
mod sessions;
mod states;
mod stored;
mod taking;
mod tell;
mod told;
mod unwanted;

pub use alarm::{go_on, looked, pause, stopped_for_bleeding};
pub use claim::claim;
pub use doubtful::mark_maybe_sent;
pub use former::bring_up_to_date;
pub use given::{StoredClaim, repeat};
pub use held::{claimed, claims, extend, give_back, oldest_lease};
pub use list::{list, of_treatment, one, open_of, open_places, said_today, says_any};
pub use outcome::report;
pub use release::release;
pub use remove::{closed_before, remove, remove_of};
pub use schedule::{
    conditions, id_of, known_of, known_with, plan_of, reschedule, schedule, skin_on,
};
pub use sessions::{Session, course, moves, replaced_at, sessions};
pub use stored::{BY_ID, REMINDERS, StoredReminder, treatment_of};
pub use taking::{Taken, Taking, Turn};
pub use tell::{tell_due, tell_reviews};
pub use unwanted::{StoredStop, stop_of};
