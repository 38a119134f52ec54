//! The texts of aftercare, and which keys of its rule files lead to them.

use serde::de::DeserializeOwned;

use crate::evidence::Register;
use crate::rules::{self, RuleFault, RuleFile};
use crate::text::{Catalogue, du_file, texts};

/// Members whose value is the key of a text, wherever they stand.
const KEYS: &[&str] = &["text", "because", "same_day", "short", "doctor"];

/// The texts of aftercare in every language.
///
/// # Errors
/// [`RuleFault`] if the languages do not say the same things.
pub(crate) fn catalogue() -> Result<Catalogue, RuleFault> {
    texts!("aftercare", [] as [&str; 0])?.with_du(du_file!("aftercare"))
}

/// Reads a rule file whose rows name texts: each must be there.
///
/// # Errors
/// [`RuleFault`] as for [`rules::load`], and for a text that is not there.
pub(crate) fn load<T: DeserializeOwned>(
    register: &Register,
    texts: &Catalogue,
    file: RuleFile,
) -> Result<T, RuleFault> {
    rules::load_saying(register, texts, KEYS, file)
}
