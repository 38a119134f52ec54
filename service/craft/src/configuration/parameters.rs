//! The named, changeable parameters of the needle model.
//!
//! `rules/configuration/parameters.toml` gives each parameter a default, a
//! range, a unit and a source. A caller may set single ones by name inside
//! their range ([`Parameters::set`]); what was not set is the default, and an
//! answer can say which ([`Parameters::changed`]).

use etui_schema::kinds::loaded;
use std::sync::Arc;

use etui_schema::vocabulary::Taper;
use serde::Deserialize;

use crate::evidence::Register;
use crate::rules::{self, Origin, RuleFault, RuleFile, rule_file};
use crate::words::words;

const FILE: RuleFile = rule_file!("configuration/parameters.toml");

words! {
    /// One parameter of the model, in the order of the rule file.
    Parameter {
        /// Tip spacing of a round liner, in needle diameters.
        SpreadRoundLiner = "spread_round_liner",
        /// Tip spacing of a round shader, in needle diameters.
        SpreadRoundShader = "spread_round_shader",
        /// Tip spacing of a round not told apart, in needle diameters.
        SpreadRound = "spread_round",
        /// Tip spacing along the ring of a hollow liner, in needle diameters.
        SpreadHollowLiner = "spread_hollow_liner",
        /// Tip spacing along a single row, in needle diameters.
        PitchFlat = "pitch_flat",
        /// Slant of a sloped flat's tip line, in degrees.
        SlopeDeg = "slope_deg",
        /// Tip spacing along the rows of a stacked magnum, in needle diameters.
        PitchStacked = "pitch_stacked",
        /// Tip spacing along the rows of a woven magnum, in needle diameters.
        PitchWoven = "pitch_woven",
        /// Distance of a woven magnum's rows, in needle diameters.
        RowGapWoven = "row_gap_woven",
        /// Radius of a curved magnum's arc, in millimetres.
        ArcRadiusMm = "arc_radius_mm",
        /// Length of a short taper, in millimetres.
        TaperShortMm = "taper_short_mm",
        /// Length of a medium taper, in millimetres.
        TaperMediumMm = "taper_medium_mm",
        /// Length of a long taper, in millimetres.
        TaperLongMm = "taper_long_mm",
        /// Length of an extra long taper, in millimetres.
        TaperExtraLongMm = "taper_extra_long_mm",
        /// Length assumed where no taper is told, in millimetres.
        TaperUnstatedMm = "taper_unstated_mm",
        /// Force of a light hand, medium = 1.
        HandLight = "hand_light",
        /// Force of a heavy hand, medium = 1.
        HandHeavy = "hand_heavy",
        /// Force that a soft drive passes on, medium = 1.
        GiveSoft = "give_soft",
        /// Force that a firm drive passes on, medium = 1.
        GiveFirm = "give_firm",
        /// How pressure falls with diameter.
        PressureDiameterExponent = "pressure_diameter_exponent",
        /// How far sharing goes by footprint rather than by number of tips.
        PressureSpreading = "pressure_spreading",
        /// How far colour spreads beyond the hole's edge, in millimetres.
        MarkGrowthMm = "mark_growth_mm",
        /// Share of the area under colour that counts as covered.
        CoverTarget = "cover_target",
        /// Stroke distance from which dots stand apart, in millimetres.
        GapSpacingMm = "gap_spacing_mm",
        /// How trauma rises with depth.
        TraumaDepthExponent = "trauma_depth_exponent",
        /// How trauma rises with punctures per area.
        TraumaDensityExponent = "trauma_density_exponent",
        /// How trauma rises with diameter.
        TraumaDiameterExponent = "trauma_diameter_exponent",
        /// How trauma rises with the force on each tip.
        TraumaLoadExponent = "trauma_load_exponent",
        /// How trauma rises with the tip's peak speed.
        TraumaImpactExponent = "trauma_impact_exponent",
        /// Strokes per millimetre from which a spot is overworked.
        OverworkStrokesPerMm = "overwork_strokes_per_mm",
        /// How trauma rises beyond that limit.
        TraumaOverworkExponent = "trauma_overwork_exponent",
        /// Factor of a very sensitive skin.
        SkinSensitive = "skin_sensitive",
        /// Factor of a fragile skin.
        SkinFragile = "skin_fragile",
        /// Factor of a dry skin.
        SkinDry = "skin_dry",
        /// Thickness of a fine skin, as a share of the site's.
        SkinFineThickness = "skin_fine_thickness",
        /// Thickness of a thick skin, as a share of the site's.
        SkinThickThickness = "skin_thick_thickness",
        /// Thinning per decade after 40, where it applies.
        AgeThinningPerDecade = "age_thinning_per_decade",
        /// Share of the thickness from which a tip is said to come close to going
        /// through.
        NearlyThroughShare = "nearly_through_share",
    }
}

/// How many parameters there are.
const COUNT: usize = Parameter::ALL.len();

impl Parameter {
    /// Looks a parameter up by its name.
    ///
    /// # Errors
    /// [`ParameterError::Unknown`] if there is none of that name.
    pub fn named(name: &str) -> Result<Self, ParameterError> {
        Self::ALL
            .iter()
            .copied()
            .find(|p| p.as_str() == name)
            .ok_or_else(|| ParameterError::Unknown { name: name.chars().take(80).collect() })
    }

    /// The parameter that holds the length of this taper class.
    #[must_use]
    pub const fn of_taper(taper: Option<Taper>) -> Self {
        match taper {
            Some(Taper::Short) => Self::TaperShortMm,
            Some(Taper::Medium) => Self::TaperMediumMm,
            Some(Taper::Long) => Self::TaperLongMm,
            Some(Taper::ExtraLong) => Self::TaperExtraLongMm,
            None => Self::TaperUnstatedMm,
        }
    }

    const fn index(self) -> usize {
        self as usize
    }
}

/// What the rule file says about one parameter.
#[loaded(PartialEq)]
pub struct Specification {
    /// Its name.
    pub name: String,
    /// The value used unless a caller sets another.
    pub default: f64,
    /// Lowest and highest value a caller may set, both included.
    pub range: [f64; 2],
    /// The unit.
    pub unit: String,
    /// What it is, in a sentence.
    pub about: String,
    /// Its source.
    pub source: Origin,
}

/// Why a parameter, or the file of parameters, was refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ParameterError {
    /// No such parameter.
    #[error("there is no parameter `{name}`")]
    Unknown {
        /// What was asked for, shortened to 80 characters.
        name: String,
    },
    /// Outside the range.
    #[error("parameter `{name}` = {found} is outside {low} to {high} {unit}")]
    Range {
        /// Which parameter.
        name: &'static str,
        /// What was given.
        found: f64,
        /// Lowest accepted value.
        low: f64,
        /// Highest accepted value.
        high: f64,
        /// Its unit.
        unit: String,
    },
}

/// A value for every parameter.
#[derive(Debug, Clone)]
pub struct Parameters {
    values: [f64; COUNT],
    specifications: Arc<[Specification]>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct File {
    parameter: Vec<Specification>,
}

impl Parameters {
    /// The defaults compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if the rule file does not name every parameter
    /// exactly once, in order, with a default inside its range and a source
    /// that the register knows.
    pub fn builtin(register: &Register) -> Result<Self, RuleFault> {
        Self::read(register, FILE)
    }

    fn read(register: &Register, file: RuleFile) -> Result<Self, RuleFault> {
        let name = file.name;
        let file: File = rules::load(register, file)?;
        let names = file.parameter.iter().map(|told| told.name.as_str());
        let all = names.eq(Parameter::ALL.iter().map(|parameter| parameter.as_str()));
        let why = "every parameter must stand once, in the order of the closed list";
        RuleFault::unless(all, name, "/parameter", why)?;
        let mut values = [0.0; COUNT];
        for ((at, told), value) in file.parameter.iter().enumerate().zip(&mut values) {
            let inside = (told.range[0]..=told.range[1]).contains(&told.default);
            let why = "the default is outside the range";
            RuleFault::unless(inside, name, format!("/parameter/{at}"), why)?;
            *value = told.default;
        }
        Ok(Self { values, specifications: file.parameter.into() })
    }

    /// The value of one parameter.
    #[must_use]
    pub fn get(&self, parameter: Parameter) -> f64 {
        self.values[parameter.index()]
    }

    /// What the rule file says about one parameter.
    #[must_use]
    pub fn specification(&self, parameter: Parameter) -> &Specification {
        &self.specifications[parameter.index()]
    }

    /// Sets one parameter by name.
    ///
    /// # Errors
    /// [`ParameterError::Unknown`] or [`ParameterError::Range`] (which NaN
    /// falls under); the parameters are then unchanged.
    pub fn set(&mut self, name: &str, value: f64) -> Result<Parameter, ParameterError> {
        let parameter = Parameter::named(name)?;
        let told = self.specification(parameter);
        let [low, high] = told.range;
        if !(low..=high).contains(&value) {
            return Err(ParameterError::Range {
                name: parameter.as_str(),
                found: value,
                low,
                high,
                unit: told.unit.clone(),
            });
        }
        self.values[parameter.index()] = value;
        Ok(parameter)
    }

    /// The same parameters with one at another value of its range; a value
    /// outside is brought to the nearer end.
    #[must_use]
    pub fn with(&self, parameter: Parameter, value: f64) -> Self {
        let [low, high] = self.specification(parameter).range;
        let mut changed = self.clone();
        changed.values[parameter.index()] = value.max(low).min(high);
        changed
    }

    /// Whether a parameter does not stand at its default.
    #[must_use]
    pub fn is_changed(&self, parameter: Parameter) -> bool {
        self.get(parameter).total_cmp(&self.specification(parameter).default).is_ne()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn builtin() -> Parameters {
        Parameters::builtin(&Register::builtin().unwrap()).unwrap()
    }

    #[test]
    fn a_parameter_is_set_by_name_inside_its_range() {
        let mut parameters = builtin();
        let changed = |set: &Parameters| -> Vec<Parameter> {
            Parameter::ALL.iter().copied().filter(|p| set.is_changed(*p)).collect()
        };
        assert_eq!(changed(&parameters), []);
        parameters.set("spread_round_shader", 1.5).unwrap();
        assert_eq!(changed(&parameters), [Parameter::SpreadRoundShader]);
        for (name, value) in
            [("spread_round_shader", 2.1), ("spread_round_shader", f64::NAN), ("no_such", 1.0)]
        {
            assert!(parameters.set(name, value).is_err(), "{name} = {value}");
        }
        assert!((parameters.get(Parameter::SpreadRoundShader) - 1.5).abs() < 1e-12);
    }

    #[test]
    fn only_the_order_of_the_taper_classes_is_safe_and_it_holds() {
        let parameters = builtin();
        let lengths = [Taper::Short, Taper::Medium, Taper::Long, Taper::ExtraLong]
            .map(|t| parameters.get(Parameter::of_taper(Some(t))));
        assert!(lengths.is_sorted_by(|a, b| a < b), "{lengths:?}");
    }

    #[test]
    fn a_file_with_a_fault_is_refused() {
        let register = Register::builtin().unwrap();
        for (from, to) in [
            ("\"spread_round\"", "\"spread_square\""),
            ("default = 1.77", "default = 3.0"),
            ("\"gill-2008\"", "\"nobody\""),
            ("unit = \"factor\"", "units = \"factor\""),
        ] {
            assert!(FILE.text.contains(from), "{from}");
            let text = Box::leak(FILE.text.replacen(from, to, 1).into_boxed_str());
            assert!(Parameters::read(&register, RuleFile { text, ..FILE }).is_err(), "{to}");
        }
    }
}
