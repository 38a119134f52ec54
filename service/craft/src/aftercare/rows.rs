//! The rows of the step and modifier files, and their loading.

use std::collections::BTreeSet;
use std::sync::Arc;

use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::StepKind;
use serde::Deserialize;

use super::data::{LoadError, Origin, Sourced, Span, read, require_text, settle};
use crate::evidence::Register;
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

/// What the days of a step are counted from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Anchor {
    #[default]
    Session,
    NextSession,
    Review,
    TouchUp,
    TouchUpCloses,
    Refresh,
    Donation,
}

/// What a modifier can move.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Tag {
    Flaking,
}

/// One step as the file tells it.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct StepRow {
    pub(crate) key: Arc<str>,
    pub(crate) kind: StepKind,
    /// Empty means: the treatments of the file.
    #[serde(default)]
    pub(crate) treatments: Vec<Treatment>,
    #[serde(default)]
    pub(crate) when: Option<Trait>,
    #[serde(default)]
    pub(crate) anchor: Anchor,
    pub(crate) from_day: i32,
    /// Absent means: for good.
    #[serde(default)]
    pub(crate) to_day: Option<i32>,
    #[serde(default)]
    pub(crate) to_day_least: Option<i32>,
    #[serde(default)]
    pub(crate) spread_days: i32,
    #[serde(default)]
    pub(crate) tag: Option<Tag>,
    #[serde(default)]
    pub(crate) message: bool,
    #[serde(default)]
    pub(crate) send_day: Option<i32>,
    /// Keys of the steps that this message bundles; what it says is what they
    /// say, one after the other.
    #[serde(default)]
    pub(crate) bundle: Vec<Arc<str>>,
    /// Whether it says whom to call. Such a message never waits for another.
    #[serde(default)]
    pub(crate) calls: bool,
    /// Key of the text where it is not the key of the step.
    #[serde(default)]
    pub(crate) text: Option<Arc<str>>,
    pub(crate) sources: StepSources,
    /// The pack that added it.
    #[serde(skip)]
    pub(crate) pack: Option<Arc<str>>,
}

/// Where the parts of a step come from.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct StepSources {
    pub(crate) days: Origin,
    pub(crate) text: Origin,
}

/// One modifier as the file tells it.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ModifierRow {
    pub(crate) key: Arc<str>,
    pub(crate) when: Trait,
    #[serde(default)]
    pub(crate) from_age_years: Option<u8>,
    pub(crate) treatments: Vec<Treatment>,
    #[serde(default)]
    pub(crate) later_end_days: Option<LaterEnd>,
    #[serde(default)]
    pub(crate) refresh_months: Option<Span<i32>>,
    pub(crate) text: Arc<str>,
    pub(crate) sources: ModifierSources,
}

/// By how much a modifier moves the end of tagged steps.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct LaterEnd {
    pub(crate) tag: Tag,
    pub(crate) least: i32,
    pub(crate) most: i32,
    pub(crate) source: Origin,
}

/// Where the parts of a modifier come from.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ModifierSources {
    pub(crate) text: Origin,
    #[serde(default)]
    pub(crate) from_age_years: Option<Origin>,
}

impl Sourced for StepRow {
    fn origins(&mut self) -> Vec<&mut Origin> {
        vec![&mut self.sources.days, &mut self.sources.text]
    }
}

impl Sourced for ModifierRow {
    fn origins(&mut self) -> Vec<&mut Origin> {
        let mut origins = vec![&mut self.sources.text];
        origins.extend(&mut self.sources.from_age_years);
        origins.extend(self.later_end_days.as_mut().map(|later| &mut later.source));
        origins.extend(self.refresh_months.as_mut().map(|span| &mut span.source));
        origins
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct StepFile {
    revision: u32,
    treatments: Vec<Treatment>,
    step: Vec<StepRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ModifierFile {
    revision: u32,
    modifier: Vec<ModifierRow>,
}

const STEP_FILES: &[(&str, &str)] = &[
    ("steps.toml", include_str!("../../rules/aftercare/steps.toml")),
    ("brows.toml", include_str!("../../rules/aftercare/brows.toml")),
    ("lips.toml", include_str!("../../rules/aftercare/lips.toml")),
    ("eyeliner.toml", include_str!("../../rules/aftercare/eyeliner.toml")),
    ("scalp.toml", include_str!("../../rules/aftercare/scalp.toml")),
    ("areola.toml", include_str!("../../rules/aftercare/areola.toml")),
];

/// Every step of every file, with the highest revision among them.
///
/// # Errors
/// [`LoadError`] if a file is unreadable, a key comes twice, days run
/// backwards, or a source or text is unknown.
pub(crate) fn steps(
    register: &Register,
    texts: &Catalogue,
) -> Result<(u32, Vec<StepRow>), LoadError> {
    let mut rows: Vec<StepRow> = Vec::new();
    let mut keys = BTreeSet::new();
    let mut revision = 0;
    for (file, text) in STEP_FILES {
        let mut read: StepFile = read(file, text)?;
        settle(&mut read.step, register)?;
        revision = revision.max(read.revision);
        for mut row in read.step {
            if row.treatments.is_empty() {
                row.treatments.clone_from(&read.treatments);
            }
            let fault =
                if keys.insert(row.key.clone()) { fault_of(&row) } else { Some("comes twice") };
            if let Some(fault) = fault {
                return Err(LoadError::Row { file, key: row.key.to_string(), fault });
            }
            if row.bundle.is_empty() {
                require_text(texts, row.text.as_deref().unwrap_or(&row.key))?;
            }
            rows.push(row);
        }
    }
    reach(&rows)?;
    Ok((revision, rows))
}

/// Whether everything that a client is to do or to avoid is said in a message,
/// its own or one that bundles several.
fn reach(rows: &[StepRow]) -> Result<(), LoadError> {
    let fault = |row: &StepRow, fault| {
        Err(LoadError::Row { file: "steps.toml", key: row.key.to_string(), fault })
    };
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
/// [`LoadError`] as for [`steps`].
pub(crate) fn modifiers(
    register: &Register,
    texts: &Catalogue,
) -> Result<(u32, Vec<ModifierRow>), LoadError> {
    const FILE: &str = "modifiers.toml";
    let mut file: ModifierFile = read(FILE, include_str!("../../rules/aftercare/modifiers.toml"))?;
    settle(&mut file.modifier, register)?;
    for row in &file.modifier {
        require_text(texts, &row.text)?;
        if row.later_end_days.as_ref().is_some_and(|l| l.least < 0 || l.most < l.least) {
            let key = row.key.to_string();
            return Err(LoadError::Row { file: FILE, key, fault: "an end may only move later" });
        }
    }
    Ok((file.revision, file.modifier))
}
