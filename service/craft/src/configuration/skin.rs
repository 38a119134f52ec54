//! What a site and its skin are, and what they can take.
//!
//! Thickness is histology throughout ([`Site::total_mm`]); ultrasound shows an
//! epidermis about three times as thick and is never mixed in. Skin colour
//! and phototype change nothing here, on purpose.

use etui_schema::kinds::loaded;
use etui_schema::vocabulary::{Oiliness, Sensitivity, Site, Skin, SkinSign, Thickness};
use serde::Deserialize;

use super::parameters::{Parameter, Parameters};
use crate::evidence::Register;
use crate::rules::{self, Origin, RuleFault, RuleFile, rule_file};

const FILE: RuleFile = rule_file!("configuration/skin.toml");

/// One published or assumed thickness.
#[loaded(PartialEq)]
pub struct Layer {
    /// Mean, in millimetres.
    pub value: f64,
    /// Standard deviation between people, where published.
    pub sd: Option<f64>,
    /// Lowest and highest plausible value; two standard deviations where they
    /// are published.
    pub range: [f64; 2],
    /// Its source.
    pub source: Origin,
    /// What exactly was measured, or why it is an assumption.
    pub note: String,
}

/// The skin of one site.
#[loaded(PartialEq)]
pub struct SiteSkin {
    /// Which site.
    pub name: Site,
    /// Epidermis and dermis together.
    pub total_mm: Layer,
    /// Epidermis.
    pub epidermis_mm: Layer,
    /// Whether thinning with age may be assumed (never for lids and lips).
    pub thins_with_age: bool,
}

#[loaded(PartialEq)]
struct Papillary {
    share: f64,
    source: Origin,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct File {
    site: Vec<SiteSkin>,
    papillary: Papillary,
}

/// The skin of every site.
#[derive(Debug, Clone)]
pub struct SkinTable {
    sites: Vec<SiteSkin>,
    papillary: Papillary,
}

impl SkinTable {
    /// The table compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if a site is missing or out of order, a value is outside
    /// its range, or a source is unknown.
    pub fn builtin(register: &Register) -> Result<Self, RuleFault> {
        let file: File = rules::load(register, FILE)?;
        let all = file.site.iter().map(|s| s.name).eq(Site::ALL.iter().copied());
        let why = "every site must stand once, in the order of the words";
        RuleFault::unless(all, FILE.name, "/site", why)?;
        for layer in file.site.iter().flat_map(|s| [&s.total_mm, &s.epidermis_mm]) {
            let inside = (layer.range[0]..=layer.range[1]).contains(&layer.value);
            let why = format!("{} mm is outside its range", layer.value);
            RuleFault::unless(inside, FILE.name, "/site", why)?;
        }
        let File { site: sites, papillary } = file;
        Ok(Self { sites, papillary })
    }

    /// The skin of one site.
    #[must_use]
    pub fn site(&self, site: Site) -> &SiteSkin {
        &self.sites[site as usize]
    }

    /// Papillary dermis as a share of the dermis, and the source.
    #[must_use]
    pub fn papillary(&self) -> (f64, &Origin) {
        (self.papillary.share, &self.papillary.source)
    }

    /// What this skin on this site can take.
    #[must_use]
    pub fn tolerance(&self, site: Site, skin: &Skin, parameters: &Parameters) -> Tolerance {
        let told = self.site(site);
        let age = age_factor(told, skin, parameters);
        let scale = age * thickness_factor(skin, parameters);
        Tolerance {
            total_mm: told.total_mm.value * scale,
            nearly_mm: told.total_mm.value * scale * parameters.get(Parameter::NearlyThroughShare),
            epidermis_mm: told.epidermis_mm.value,
            strain: strain(skin, parameters),
            thinned_by_age: age < 1.0,
        }
    }
}

/// What one skin on one site can take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    /// Thickness to reckon with, in millimetres.
    pub total_mm: f64,
    /// Depth from which a tip comes close to going through, in millimetres.
    pub nearly_mm: f64,
    /// Thickness of the epidermis, in millimetres.
    pub epidermis_mm: f64,
    /// How many times the same work troubles this skin, normal = 1.
    pub strain: f64,
    /// Whether the thickness was lowered for age, which is contested.
    pub thinned_by_age: bool,
}

/// Thinning with age: a share per decade after 40, at most a fifth.
fn age_factor(site: &SiteSkin, skin: &Skin, parameters: &Parameters) -> f64 {
    let Some(age_years) = skin.age_years.filter(|_| site.thins_with_age) else {
        return 1.0;
    };
    let decades = (f64::from(age_years) - 40.0).max(0.0) / 10.0;
    1.0 - (decades * parameters.get(Parameter::AgeThinningPerDecade)).min(0.2)
}

fn thickness_factor(skin: &Skin, parameters: &Parameters) -> f64 {
    match skin.thickness {
        Some(Thickness::Fine) => parameters.get(Parameter::SkinFineThickness),
        Some(Thickness::Thick) => parameters.get(Parameter::SkinThickThickness),
        Some(Thickness::Normal) | None => 1.0,
    }
}

/// Sensitivity, fragility and dryness, multiplied.
fn strain(skin: &Skin, parameters: &Parameters) -> f64 {
    let sensitive = parameters.get(Parameter::SkinSensitive);
    let by_sensitivity = match skin.sensitivity {
        Some(Sensitivity::High) => sensitive,
        Some(Sensitivity::Low) => 1.0 / sensitive,
        Some(Sensitivity::Normal) | None => 1.0,
    };
    let fragile = skin.signs.iter().any(|sign| is_fragile(*sign));
    let by_signs = if fragile { parameters.get(Parameter::SkinFragile) } else { 1.0 };
    let dry = skin.oiliness == Some(Oiliness::Dry);
    let by_dryness = if dry { parameters.get(Parameter::SkinDry) } else { 1.0 };
    by_sensitivity * by_signs * by_dryness
}

/// Whether a sign stands for a skin that is hurt easily.
#[must_use]
pub const fn is_fragile(sign: SkinSign) -> bool {
    match sign {
        SkinSign::Cracked
        | SkinSign::BruisesEasily
        | SkinSign::Purpura
        | SkinSign::Pseudoscars
        | SkinSign::TearsEasily
        | SkinSign::BrokenVessels => true,
        SkinSign::Flaking | SkinSign::LargePores | SkinSign::Scarred | SkinSign::Lax => false,
    }
}
