//! The loaded model: parameters, packing, skin, assumptions, cached layouts.

use std::sync::{Arc, OnceLock};

use etui_schema::vocabulary::{Grouping, Setting};

use super::circumstances::{Circumstances, Defaults};
use super::complete::{COUNT_MAX, Complete};
use super::documentation::{self, MeasureDocument};
use super::layout::Layout;
use super::measures::{Context, Measures, Reference, measure};
use super::packing::Packing;
use super::parameters::{Parameter, ParameterError, Parameters};
use super::skin::SkinTable;
use super::trauma::Cause;
use super::wording::Wording;
use crate::evidence::Register;
use crate::rules::RuleFault;

/// Number of cached layouts: every grouping with 1 to 49 needles.
const LAYOUTS: usize = Grouping::ALL.len() * COUNT_MAX as usize;

/// Ends of ranges of the parameters that shape one grouping, at most three.
const ENDS: usize = 6;

/// The model of a needle in skin, ready to measure.
///
/// Layouts are made when they are first needed and kept; measuring allocates
/// nothing after that.
#[derive(Debug, Clone)]
pub struct Model {
    parameters: Parameters,
    tables: Arc<Tables>,
    reference: Reference,
    layouts: Box<[OnceLock<Layout>]>,
    /// Layouts with one parameter at an end of its range.
    end_layouts: Box<[OnceLock<Layout>]>,
}

/// What does not depend on parameters.
#[derive(Debug)]
struct Tables {
    packing: Packing,
    skin: SkinTable,
    defaults: Defaults,
    documentation: Vec<MeasureDocument>,
    wording: Wording,
}

/// The configuration that every index is relative to.
pub const REFERENCE: Complete =
    Complete { diameter_mm: 0.30, count: 3, grouping: Grouping::RoundLiner, taper: None };

impl Model {
    /// The model compiled into this build, with every parameter at its default.
    ///
    /// # Errors
    /// [`RuleFault`] if a rule file is faulty; the tests hold that it is not.
    pub fn builtin() -> Result<Self, RuleFault> {
        let register = Register::builtin()?;
        let tables = Tables {
            packing: Packing::builtin()?,
            skin: SkinTable::builtin(&register)?,
            defaults: Defaults::builtin(&register)?,
            documentation: documentation::builtin(&register)?,
            wording: Wording::builtin()?,
        };
        let parameters = Parameters::builtin(&register)?;
        Ok(Self::assemble(Arc::new(tables), parameters))
    }

    fn assemble(tables: Arc<Tables>, parameters: Parameters) -> Self {
        let empty = |count: usize| (0..count).map(|_| OnceLock::new()).collect();
        let mut model = Self {
            parameters,
            tables,
            reference: Reference::NONE,
            layouts: empty(LAYOUTS),
            end_layouts: empty(LAYOUTS * ENDS),
        };
        let ordinary = model.circumstances(&Setting::default());
        let raw = model.measure(&REFERENCE, &ordinary);
        let mut trauma = [1.0; Cause::ALL.len()];
        for (factor, cause) in trauma.iter_mut().zip(Cause::ALL) {
            *factor = raw.trauma.factor(*cause);
        }
        model.reference = Reference { pressure: raw.pressure_index, trauma };
        model
    }

    /// The same model with other values of some parameters.
    ///
    /// # Errors
    /// [`ParameterError`] at the first name or value that is refused.
    pub fn with<'a>(
        &self,
        changes: impl IntoIterator<Item = (&'a str, f64)>,
    ) -> Result<Self, ParameterError> {
        let mut parameters = self.parameters.clone();
        for (name, value) in changes {
            parameters.set(name, value)?;
        }
        Ok(Self::assemble(Arc::clone(&self.tables), parameters))
    }

    /// The parameters in force.
    #[must_use]
    pub const fn parameters(&self) -> &Parameters {
        &self.parameters
    }

    /// The skin of every site.
    #[must_use]
    pub fn skin(&self) -> &SkinTable {
        &self.tables.skin
    }

    /// How much of the skin a depth takes where it is worked: from 1 on it goes through.
    #[must_use]
    pub fn share_of_skin(&self, at: &Circumstances) -> f64 {
        let skin = self.tables.skin.tolerance(at.site, &at.skin, &self.parameters);
        at.depth_mm / skin.total_mm
    }

    /// The assumptions and limits.
    #[must_use]
    pub fn defaults(&self) -> &Defaults {
        &self.tables.defaults
    }

    /// What each measure means.
    #[must_use]
    pub fn documentation(&self) -> &[MeasureDocument] {
        &self.tables.documentation
    }

    /// Cautions and differences in words.
    #[must_use]
    pub fn wording(&self) -> &Wording {
        &self.tables.wording
    }

    /// Fills a setting, listing what was assumed.
    #[must_use]
    pub fn circumstances(&self, setting: &Setting) -> Circumstances {
        self.tables.defaults.resolve(setting)
    }

    /// Where the tips lie, in needle diameters.
    ///
    /// A count outside 1 to 49 is brought to the nearer end.
    #[must_use]
    pub fn layout(&self, grouping: Grouping, count: u8) -> &Layout {
        self.layouts[index_of(grouping, count)]
            .get_or_init(|| Layout::new(&self.tables.packing, grouping, count, &self.parameters))
    }

    /// The layout under other parameters, kept under one of six slots.
    pub(super) fn end_layout(
        &self,
        grouping: Grouping,
        count: u8,
        slot: usize,
        parameters: &Parameters,
    ) -> &Layout {
        self.end_layouts[index_of(grouping, count) * ENDS + slot]
            .get_or_init(|| Layout::new(&self.tables.packing, grouping, count, parameters))
    }

    /// Measures one configuration.
    ///
    /// ```
    /// use etui_craft::configuration::{Model, REFERENCE};
    /// use etui_schema::vocabulary::Setting;
    /// let model = Model::builtin()?;
    /// let circumstances = model.circumstances(&Setting::default());
    /// let measures = model.measure(&REFERENCE, &circumstances);
    /// assert!((measures.pressure_index - 1.0).abs() < 1e-12);
    /// assert!((measures.band_width_mm - 0.6464).abs() < 1e-4);
    /// # Ok::<(), etui_craft::rules::RuleFault>(())
    /// ```
    #[must_use]
    pub fn measure(&self, configuration: &Complete, circumstances: &Circumstances) -> Measures {
        let layout = self.layout(configuration.grouping, configuration.count);
        measure(self.context(&self.parameters), configuration, layout, circumstances)
    }

    pub(super) fn context<'a>(&'a self, parameters: &'a Parameters) -> Context<'a> {
        Context {
            parameters,
            skin: &self.tables.skin,
            defaults: &self.tables.defaults,
            reference: &self.reference,
        }
    }

    /// The length assumed for this taper, in millimetres.
    #[must_use]
    pub fn taper_mm(&self, configuration: &Complete) -> f64 {
        self.parameters.get(Parameter::of_taper(configuration.taper))
    }
}

/// Place of a layout in its cache.
fn index_of(grouping: Grouping, count: u8) -> usize {
    let count = count.clamp(1, COUNT_MAX);
    grouping as usize * usize::from(COUNT_MAX) + usize::from(count) - 1
}
