//! What each measure means, as data: unit, formula, range, sources and the
//! parameters that it rests on (`rules/configuration/measures.toml`).

use etui_schema::kinds::loaded;
use std::collections::BTreeSet;
use std::sync::Arc;

use serde::Deserialize;

use super::circumstances::Circumstances;
use super::complete::Complete;
use super::model::Model;
use super::parameters::{Parameter, ParameterError};
use crate::evidence::{Basis, Register};
use crate::rules::{self, Origin, RuleFault, RuleFile, rule_file};

const FILE: RuleFile = rule_file!("configuration/measures.toml");

/// What one measure means.
#[loaded(PartialEq)]
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
    pub sources: Vec<Origin>,
    /// Parameters that it rests on besides those of the measures it uses.
    pub parameters: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct File {
    measure: Vec<MeasureDocument>,
}

/// Reads the documents and holds their sources and parameters against the
/// register and the closed list.
pub(super) fn builtin(register: &Register) -> Result<Vec<MeasureDocument>, RuleFault> {
    let file: File = rules::load(register, FILE)?;
    for (at, document) in file.measure.iter().enumerate() {
        for name in &document.parameters {
            let fault = |e: ParameterError| {
                RuleFault::new(FILE.name, format!("/measure/{at}/parameters"), e.to_string())
            };
            Parameter::named(name).map_err(fault)?;
        }
    }
    Ok(file.measure)
}

impl Model {
    /// The parameters that these configurations rest on, in the order of the
    /// rule file: layout and taper of each, pressure, colour, trauma.
    #[must_use]
    pub fn parameters_of(&self, configurations: &[Complete]) -> Vec<Parameter> {
        let shapes = |parameter: Parameter| {
            configurations.iter().any(|c| {
                Parameter::of_taper(c.taper) == parameter
                    || Parameter::of_layout(c.grouping).contains(&parameter)
            })
        };
        let always =
            |p: Parameter| Parameter::HandLight <= p && p <= Parameter::TraumaOverworkExponent;
        Parameter::ALL.iter().copied().filter(|p| always(*p) || shapes(*p)).collect()
    }

    /// Where the numbers of an answer came from: the measures, what was
    /// assumed of the circumstances, and the parameters that shape these
    /// configurations, sorted, each once.
    #[must_use]
    pub fn basis(&self, configurations: &[Complete], circumstances: &Circumstances) -> Vec<Basis> {
        let mut found = BTreeSet::new();
        let mut add = |about: &str, origin: &Origin| {
            found.insert(origin.basis(about));
        };
        for document in self.documentation() {
            document.sources.iter().for_each(|origin| add(&document.name, origin));
        }
        for pointer in &circumstances.assumed {
            if let Some(origin) = self.defaults().source_of(pointer, circumstances.site) {
                add(&format!("setting{}", pointer.replace('/', ".")), origin);
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
