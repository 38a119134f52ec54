//! The service from outside: over HTTP, on port 0, with its data in a
//! temporary folder. One program for all of it, so that it is linked once.
//!
//! | module | what it holds the service to |
//! |---|---|
//! | [`aftercare`] | plans and symptom reports |
//! | [`beside`] | deliveries of one code: two last days, packs that are out of use |
//! | [`altered_exports`] | exports altered by somebody who makes the digests right again |
//! | [`calendars`] | plans of treatments, and the feeds of them |
//! | `chain` | several processes on one database are one service (with the feature `postgres`) |
//! | [`checks`] | the pre-appointment check: skin test, bottles, earlier sessions |
//! | [`claims`] | the client's loop over due messages, lists as streams |
//! | [`client`] | the client crate: typed calls, what it repeats and what not |
//! | [`discovery`] | catalogue, error codes, links: finding one's way from the host alone |
//! | [`compatible`] | callers of what was released go on working |
//! | [`docs`] | the page to read and try: whole, and nothing from elsewhere |
//! | [`configurations`] | comparisons, drawings, puncture patterns |
//! | [`document`] | the OpenAPI document is whole, and the service does what it says |
//! | [`conventions`] | one way for each thing, over the whole document and every answer of the tour |
//! | [`deliveries`] | events arrive signed, in order, and nowhere they may not |
//! | [`events`] | told in their order, followed as they happen, never anything of health |
//! | [`drawer`] | what is not known holds a lot, and who settles it |
//! | `drift` | `openapi/` is what this build makes |
//! | [`drill`] | saved, worked on, lost, restored: what the others see of it |
//! | [`fuzz`] | bodies at random: never a 5xx, never a hang |
//! | [`given_back`] | claims extended and given back, subscriptions that wait, many at once |
//! | [`ignored`] | what a request says and is not understood stops it; dry runs |
//! | [`lists`] | what is kept under references, what filters find, patches |
//! | [`limits`] | what the document says of a value is what holds |
//! | [`folder`] | backups, restore drill, modes, second process, full disk |
//! | [`hands`] | what healed results say about a hand |
//! | [`history`] | reviews, reports, amendments |
//! | [`dossiers`] | what is held on a client, and who was exposed to a lot |
//! | [`luck`] | bad luck: clocks that leap, restores, damage, crowds, readers that do not read |
//! | [`loss`] | kill -9 in the middle of writes: nothing acknowledged is lost, nothing is half |
//! | [`labels`] | what packets say |
//! | [`matrix`] | every operation × every way to ask wrongly |
//! | `moving` | out of the folder into a database and back (with the feature `postgres`) |
//! | [`milder`] | what is told of another part, less or older makes no visit milder |
//! | [`moved`] | a treatment whose date is put right, and all that moves with it |
//! | [`needle_selections`] | which needle, and why |
//! | [`older_folder`] | a folder of the build before opens and says what it said |
//! | [`operating`] | settings checked, a backup on demand, figures |
//! | [`packs`] | what a studio adds to the built-in data |
//! | [`pages`] | every list in pages, what is read goes back whole, one status for parameters |
//! | [`packs_kept`] | two changes at once, and how much of what is kept rests on a pack |
//! | [`packs_stored`] | dry runs, and stored packs that are no longer sound |
//! | [`newer`] | a service that says more than its client knows |
//! | [`nasty`] | hostile bytes: a clear refusal, and the service goes on |
//! | [`preferences`] | answers spared, answers packed |
//! | [`place_laws`] | what the law of a place asks of training |
//! | [`plugin_tokens`] | the life of a plug-in's token: made, used, rotated, ended, revoked, moved |
//! | [`plugins`] | plug-ins: what their tokens open, how often, what they did |
//! | [`overtaken`] | told once or only later: the next check knows, no page goes on without it |
//! | [`own_name`] | a student works under her own name, and nobody beside it |
//! | [`practice`] | sheets read, handed in, marked |
//! | [`supervised`] | a student never signs, and what she did alone is told of |
//! | [`process`] | start, stop, kill |
//! | [`reach`] | a token that is limited to some artists, over every operation |
//! | [`reactions`] | a reaction of a skin test, over several checks |
//! | [`recalls`] | recalls: whatever comes at the same moment, however a code is spelled |
//! | [`replays`] | a check that is made again |
//! | [`receipts`] | what the receipt of an erasure says against what lies in the store |
//! | [`reminders`] | reminders: claimed once, forgotten never |
//! | [`restored`] | messages that a lost store may have sent: marked, or held |
//! | [`returns`] | a forgotten client who comes back, and everybody else |
//! | [`retention`] | what is removed when, and only on order |
//! | [`screening`] | questions, assessments, skin typing |
//! | [`security`] | strangers: tokens, names, paths, bodies and clients that mean harm |
//! | [`short`] | short views: a part of the whole, never a kinder one |
//! | [`sign_offs`] | who signs off whom, and what it does to a check |
//! | [`signers`] | a sign-off is written only while its signer may |
//! | [`stored_forms`] | what lies in the folder: former forms, old keys, the walk over everything |
//! | [`studio`] | drawer, treatments, recall, forgetting, the command line |
//! | [`writes`] | carried out once; only on the version that was seen; lists under writes |

mod address;
mod aftercare;
mod altered_exports;
mod areas;
mod beside;
mod branch_days;
mod branch_moves;
mod branch_tokens;
mod branches;
mod calendars;
#[cfg(feature = "postgres")]
mod chain;
#[cfg(feature = "postgres")]
mod chain_kills;
mod checks;
mod claims;
mod client;
mod compatible;
mod configurations;
mod conventions;
mod deliveries;
mod discovery;
mod docs;
mod document;
mod dossiers;
mod drawer;
#[cfg(feature = "describe")]
mod drift;
mod drill;
mod events;
mod fates;
mod folder;
mod fuzz;
mod given_back;
mod hands;
mod history;
mod house;
mod ignored;
mod labels;
mod languages;
mod limits;
mod lists;
mod loss;
mod luck;
mod matrix;
mod milder;
mod moved;
#[cfg(feature = "postgres")]
mod moving;
mod narrowed;
mod nasty;
mod needle_selections;
mod newer;
mod night;
mod older_folder;
mod operating;
mod overtaken;
mod own_name;
mod packs;
mod packs_kept;
mod packs_stored;
mod pages;
mod pausing;
mod pictures;
mod place_laws;
mod plugin_tokens;
mod plugins;
mod practice;
mod preferences;
mod process;
mod reach;
mod reactions;
mod reads;
mod recalls;
mod receipts;
mod reminders;
mod replays;
mod restored;
mod retention;
mod returns;
mod screening;
mod security;
mod short;
mod sign_offs;
mod signers;
mod stored_forms;
mod struck;
mod studio;
mod supervised;
mod told_before;
mod trained;
mod unwanted;
mod visits;
mod writes;
