//! What each measure means, as data: unit, formula, range, sources and the
//! parameters that it rests on (`rules/configuration/measures.toml`).

use std::collections::BTreeSet;
use std::sync::Arc;

use serde::Deserialize;

use super::circumstances::Circumstances;
use super::complete::Complete;
use super::model::Model;
use super::parameters::Parameter;
use crate::evidence::{Basis, Register};

/// What one measure means.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MeasureDocument {
    /// The answer's field.
    pub name: Arc<str>,
    /// Its unit.
    pub unit: String,
    /// How it is computed.
    pub formula: String,
    /// Which values it can take.
    pub range: String,
    /// Ids of the sources.
    pub sources: Vec<Arc<str>>,
    /// Parameters that it rests on besides those of the measures it uses.
    pub parameters: Vec<String>,
}

/// Why the documents were refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("rules/configuration/measures.toml: {why}")]
pub struct DocumentationError {
    why: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    measure: Vec<MeasureDocument>,
}

/// Reads the documents and holds their sources and parameters against the
/// register and the closed list.
pub(super) fn builtin(register: &Register) -> Result<Vec<MeasureDocument>, DocumentationError> {
    let fault = |why: String| DocumentationError { why };
    let text = include_str!("../../rules/configuration/measures.toml");
    let file: File = toml::from_str(text).map_err(|e| fault(e.to_string()))?;
    for document in &file.measure {
        for id in &document.sources {
            register.get(id).map_err(|e| fault(e.to_string()))?;
        }
        for name in &document.parameters {
            Parameter::named(name).map_err(|e| fault(e.to_string()))?;
        }
    }
    Ok(file.measure)
}

impl Model {
    /// Where the numbers of an answer came from: the measures, what was
    /// assumed of the circumstances, and the parameters that shape these
    /// configurations, sorted, each once.
    #[must_use]
    pub fn basis(&self, configurations: &[Complete], circumstances: &Circumstances) -> Vec<Basis> {
        let mut found = BTreeSet::new();
        let mut add = |about: &str, id: &str| {
            if let Ok(basis) = self.register().basis(about, id) {
                found.insert(basis);
            }
        };
        for document in self.documentation() {
            document.sources.iter().for_each(|id| add(&document.name, id));
        }
        for pointer in &circumstances.assumed {
            if let Some(id) = self.defaults().source_of(pointer, circumstances.site) {
                add(&format!("setting{}", pointer.replace('/', ".")), id);
            }
        }
        let skin = self.skin().site(circumstances.site);
        add("thickness of the skin", &skin.total_mm.source);
        add("thickness of the epidermis", &skin.epidermis_mm.source);
        for configuration in configurations {
            let taper = Parameter::of_taper(configuration.taper);
            let layout = Parameter::of_layout(configuration.grouping);
            for parameter in layout.iter().copied().chain([taper]) {
                add(parameter.as_str(), &self.parameters().specification(parameter).source);
            }
        }
        found.into_iter().collect()
    }
}
