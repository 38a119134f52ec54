//! Clients: a pseudonymous reference, a skin, answers. No name is needed.

use crate::kinds::{sent, told};
use std::collections::BTreeMap;

use crate::answers::{Answer, Answers, MOST_ANSWERS};
use crate::vocabulary::{CivilDate, Instant, Language, Reference, Skin, Treatment, Zone};

/// How many answers for other treatments a client may have: more than there are questions and
/// treatments.
pub const MOST_OTHER_ANSWERS: usize = 5 * MOST_ANSWERS;

/// Where an answer comes from.
#[sent(Default, Eq, free)]
pub struct AnswerGiven {
    /// The day on which it was given. If it is not told, an answer that is new
    /// is of today, and one that is unchanged keeps its day.
    pub on: Option<CivilDate>,
    /// The treatment it was asked for. An answer on the area counts for that
    /// treatment only, and for none if nobody said which.
    pub treatment: Option<Treatment>,
    /// Who asked, by the studio's reference; who sent it if that is not told.
    pub asked_by: Option<Reference>,
}

/// An answer to a question that has another one for another treatment.
#[sent(free)]
pub struct OtherAnswer {
    /// The question's id.
    pub question: String,
    /// What was answered.
    pub answer: Answer,
    /// The day on which it was given.
    pub on: Option<CivilDate>,
    /// The treatment it was asked for; absent if nobody said which.
    pub treatment: Option<Treatment>,
    /// Who asked, by the studio's reference.
    pub asked_by: Option<Reference>,
}

/// What is kept of a client. Health answers and the skin are sealed under a
/// key of this client.
#[sent(Default, free)]
pub struct ClientRecord {
    /// Date of birth.
    pub born_on: Option<CivilDate>,
    /// What is known of the skin.
    #[garde(dive)]
    pub skin: Option<Skin>,
    /// Answers to the screening questions, by question id.
    #[serde(default, skip_serializing_if = "Answers::is_empty")]
    #[garde(length(max = MOST_ANSWERS))]
    #[schemars(extend("maxProperties" = MOST_ANSWERS))]
    pub answers: Answers,
    /// When, and for which treatment, the answers of this call were given.
    #[garde(dive)]
    pub given: Option<AnswerGiven>,
    /// The same for single answers, by question id, where they differ from the
    /// rest; as an earlier answer told it.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    #[garde(length(max = MOST_ANSWERS), dive)]
    #[schemars(extend("maxProperties" = MOST_ANSWERS))]
    pub answered: BTreeMap<String, AnswerGiven>,
    /// As it was read; an answer that is told for its treatment takes the place of one, and a PATCH
    /// with a list that lacks one takes it away.
    #[garde(inner(length(max = MOST_OTHER_ANSWERS)))]
    #[schemars(extend("maxItems" = MOST_OTHER_ANSWERS))]
    pub other_answers: Option<Vec<OtherAnswer>>,
    /// Language of messages to the client; the studio's if absent.
    pub language: Option<Language>,
    /// The client's time zone.
    pub zone: Option<Zone>,
    /// As it was read; the path says it.
    pub client_ref: Option<Reference>,
    /// As it was read.
    pub alike: Option<Reference>,
    /// As it was read; the service counts.
    pub version: Option<u64>,
    /// As it was read; the service sets it.
    pub updated_at: Option<Instant>,
}

/// A client as stored.
#[told]
pub struct Client {
    /// The caller's own reference.
    pub client_ref: Reference,
    /// Who is kept under it in other capitals (all, none, the first): is it she?
    pub alike: Option<Reference>,
    /// Date of birth.
    pub born_on: Option<CivilDate>,
    /// What is known of the skin.
    pub skin: Option<Skin>,
    /// Answers to the screening questions, by question id.
    pub answers: Answers,
    /// When and for which treatment each of them was given, by question id.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub answered: BTreeMap<String, AnswerGiven>,
    /// Answers to the same questions that were given for other treatments, by question. What is
    /// answered on the area for the lips says nothing of the brows, and does not take the place of
    /// what was answered for them; where no treatment was named, it may be of any.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub other_answers: Vec<OtherAnswer>,
    /// Language of messages to the client; the studio's if absent.
    pub language: Option<Language>,
    /// The client's time zone.
    pub zone: Option<Zone>,
    /// Counts the changes, from 1.
    pub version: u64,
    /// When it was last changed.
    pub updated_at: Instant,
}

/// A client in a list: nothing that is sealed. Read the client for the rest.
#[told(Eq)]
pub struct ClientRow {
    /// The caller's own reference.
    pub client_ref: Reference,
    /// Counts the changes, from 1.
    pub version: u64,
    /// When it was last changed.
    pub updated_at: Instant,
}

/// What was done to forget a client, or would be.
#[told(Eq)]
pub struct ErasureReceipt {
    /// Its id; the service keeps the receipt. A dry run has none.
    pub receipt_id: Option<String>,
    /// The reference, which stays in trace records as the law wants.
    pub client_ref: Reference,
    /// When the key was destroyed; when this was answered, in a dry run.
    pub erased_at: Instant,
    /// Whether this only says what would happen.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub dry_run: bool,
    /// What can no longer be read by anyone.
    pub unreadable: String,
    /// What stays, and why.
    pub kept: String,
    /// Backups from which the key was taken too, by file name. Copies of them
    /// that lie elsewhere have to be replaced by you. A dry run does not look into
    /// them.
    pub backups: Vec<String>,
    /// Backups whose `.keys` file could not be read or written yet, or the folder of another process
    /// that has not yet heard of it: the key may still lie there. It is tried again.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_reached: Vec<String>,
    /// What stays, record by record.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub kept_records: Vec<KeptRecords>,
}

/// Records of one kind that stay, without what was sealed.
#[told(Eq)]
pub struct KeptRecords {
    /// The kind, such as `treatment`.
    pub kind: String,
    /// How many.
    pub records: u32,
    /// Their members that stay readable.
    pub members: Vec<String>,
}
