//! The rows of the step and modifier files, and their loading.

use etui_schema::kinds::loaded;
use std::collections::BTreeSet;
use std::sync::Arc;

pub(crate) use etui_schema::packs::StepAnchor as Anchor;
use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::StepKind;
use serde::Deserialize;

use super::texts::load;
use crate::evidence::Register;
use crate::rules::{Origin, RuleFault, RuleFile, Span, rule_file};
use crate::text::Catalogue;

/// What a row asks of the client.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Trait {
    Always,
    Oily,
    Dry,
    Mature,
    Darker,
    Diabetes,
    Smoker,
    ColdSoreHistory,
    /// The country says when blood may be given again.
    DonationDated,
    /// It does not, or is not known.
    DonationAsked,
}

/// What a modifier can move.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Tag {
    Flaking,
}

/// One step as the file tells it.
#[loaded]
pub(crate) struct StepRow {
    pub(crate) key: Arc<str>,
    pub(crate) kind: StepKind,
    /// Empty means: the treatments of the file.
    #[serde(default)]
    pub(crate) treatments: Vec<Treatment>,
    pub(crate) when: Option<Trait>,
    #[serde(default = "session")]
    pub(crate) anchor: Anchor,
    pub(crate) from_day: i32,
    /// Absent means: for good.
    pub(crate) to_day: Option<i32>,
    pub(crate) to_day_least: Option<i32>,
    #[serde(default)]
    pub(crate) spread_days: i32,
    pub(crate) tag: Option<Tag>,
    #[serde(default)]
    pub(crate) message: bool,
    pub(crate) send_day: Option<i32>,
    /// Keys of the steps that this message bundles; what it says is what they
    /// say, one after the other.
    #[serde(default)]
    pub(crate) bundle: Vec<Arc<str>>,
    /// Whether it says whom to call. Such a message never waits for another.
    #[serde(default)]
    pub(crate) calls: bool,
    /// Key of the text where it is not the key of the step.
    pub(crate) text: Option<Arc<str>>,
    /// Key of the text for a place of which nobody is asked for a photo.
    pub(crate) private: Option<Arc<str>>,
    pub(crate) sources: StepSources,
    /// The pack that added it.
    #[serde(skip)]
    pub(crate) pack: Option<Arc<str>>,
}

/// Whether nobody is asked for a photo of the place: who wants to send one may.
pub(crate) const fn is_private(treatment: Treatment) -> bool {
    matches!(treatment, Treatment::Areola)
}

/// Days are counted from the session where nothing else is said.
pub(super) const fn session() -> Anchor {
    Anchor::Session
}

/// Where the parts of a step come from.
#[loaded]
pub(crate) struct StepSources {
    pub(crate) days: Origin,
    pub(crate) text: Origin,
}

/// One modifier as the file tells it.
#[loaded]
pub(crate) struct ModifierRow {
    pub(crate) key: Arc<str>,
    pub(crate) when: Trait,
    pub(crate) from_age_years: Option<u8>,
    pub(crate) treatments: Vec<Treatment>,
    pub(crate) later_end_days: Option<LaterEnd>,
    pub(crate) refresh_months: Option<Span<i32>>,
    pub(crate) text: Arc<str>,
    pub(crate) sources: ModifierSources,
}

/// By how much a modifier moves the end of tagged steps.
#[loaded]
pub(crate) struct LaterEnd {
    pub(crate) tag: Tag,
    pub(crate) least: i32,
    pub(crate) most: i32,
    pub(crate) source: Origin,
}

/// Where the parts of a modifier come from.
#[loaded]
pub(crate) struct ModifierSources {
    pub(crate) text: Origin,
    pub(crate) from_age_years: Option<Origin>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct StepFile {
    revision: u32,
    treatments: Vec<Treatment>,
    step: Vec<StepRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ModifierFile {
    revision: u32,
    modifier: Vec<ModifierRow>,
}

const STEPS: &str = "aftercare/steps.toml";
const STEP_FILES: &[RuleFile] = &[
    rule_file!("aftercare/steps.toml"),
    rule_file!("aftercare/brows.toml"),
    rule_file!("aftercare/lips.toml"),
    rule_file!("aftercare/eyeliner.toml"),
    rule_file!("aftercare/scalp.toml"),
    rule_file!("aftercare/areola.toml"),
];

/// Every step of every file, with the highest revision among them.
///
/// # Errors
/// [`RuleFault`] if a file is unreadable, a key comes twice, days run
/// backwards, or a source or text is unknown.
pub(crate) fn steps(
    register: &Register,
    texts: &Catalogue,
) -> Result<(u32, Vec<StepRow>), RuleFault> {
    let mut rows: Vec<StepRow> = Vec::new();
    let mut keys = BTreeSet::new();
    let mut revision = 0;
    for file in STEP_FILES {
        let read: StepFile = load(register, texts, *file)?;
        revision = revision.max(read.revision);
        for (at, mut row) in read.step.into_iter().enumerate() {
            if row.treatments.is_empty() {
                row.treatments.clone_from(&read.treatments);
            }
            let fault =
                if keys.insert(row.key.clone()) { fault_of(&row) } else { Some("comes twice") };
            if let Some(why) = fault {
                return Err(RuleFault::new(file.name, format!("/step/{at}"), why));
            }
            if row.bundle.is_empty() && row.text.is_none() {
                texts.require(file.name, [&row.key])?;
            }
            texts.require(file.name, &row.private)?;
            rows.push(row);
        }
    }
    reach(&rows)?;
    Ok((revision, rows))
}

/// Whether everything that a client is to do or to avoid is said in a message,
/// its own or one that bundles several.
fn reach(rows: &[StepRow]) -> Result<(), RuleFault> {
    let fault = |row: &StepRow, why| Err(RuleFault::new(STEPS, format!("/step/{}", row.key), why));
    for row in rows {
        if !row.bundle.iter().all(|key| rows.iter().any(|one| one.key == *key)) {
            return fault(row, "bundles a step that is not there");
        }
        let told = |treatment| {
            rows.iter().any(|other| {
                other.bundle.contains(&row.key) && other.treatments.contains(treatment)
            })
        };
        let rule = matches!(row.kind, StepKind::Do | StepKind::Avoid);
        if rule && !row.message && !row.treatments.iter().all(told) {
            return fault(row, "reaches nobody: send it, or bundle it with others");
        }
    }
    Ok(())
}

pub(super) fn fault_of(row: &StepRow) -> Option<&'static str> {
    let to = row.to_day.unwrap_or(i32::MAX);
    if to < row.from_day {
        return Some("its days run backwards");
    }
    if row.to_day_least.is_some_and(|least| least < row.from_day || to < least) {
        return Some("`to_day_least` lies outside its days");
    }
    if row.send_day.is_some_and(|send| to < send) {
        return Some("`send_day` lies after its days");
    }
    None
}

/// Every modifier.
///
/// # Errors
/// [`RuleFault`] as for [`steps`].
pub(crate) fn modifiers(
    register: &Register,
    texts: &Catalogue,
) -> Result<(u32, Vec<ModifierRow>), RuleFault> {
    const FILE: RuleFile = rule_file!("aftercare/modifiers.toml");
    let file: ModifierFile = load(register, texts, FILE)?;
    for (at, row) in file.modifier.iter().enumerate() {
        let pointer = format!("/modifier/{at}");
        let later = row.later_end_days.as_ref().is_none_or(|l| 0 <= l.least && l.least <= l.most);
        RuleFault::unless(later, FILE.name, &*pointer, "an end may only move later")?;
        let paired = row.from_age_years.is_some() == row.sources.from_age_years.is_some();
        RuleFault::unless(paired, FILE.name, pointer, "an age and its source go together")?;
    }
    Ok((file.revision, file.modifier))
}
