//! What would change a choice, and where the trade is split.

use crate::kinds::told;
use std::borrow::Cow;
use std::sync::Arc;

use crate::vocabulary::Configuration;

/// A single change that would put another candidate first.
#[told]
pub struct NeedleChange {
    /// JSON pointer of the member of the request, such as `/setting/hand`.
    pub change: Cow<'static, str>,
    /// What it would be changed to.
    pub to: Cow<'static, str>,
    /// The canonical text of what would then be first; absent if nothing
    /// would be suitable.
    pub then_first: Option<String>,
    /// The same as a configuration.
    pub configuration: Option<Configuration>,
    /// The change in words.
    pub because: String,
}

/// A question on which the trade is split.
#[told]
pub struct DifferingView {
    /// The question.
    pub question: Arc<str>,
    /// Its schools, at least two.
    pub schools: Vec<School>,
}

/// One school of the trade.
#[told]
pub struct School {
    /// What it holds.
    pub view: Arc<str>,
    /// Why it holds it.
    pub reason: Arc<str>,
    /// What it would choose here: a canonical text, or words.
    pub would_choose: String,
    /// The best of the candidates that it would choose, where it is one.
    pub configuration: Option<Configuration>,
    /// How many independent pages hold it.
    pub agreement: Arc<str>,
}
