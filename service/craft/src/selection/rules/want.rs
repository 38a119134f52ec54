//! What a treatment and an effect want of a configuration.

use etui_schema::kinds::loaded;
use std::sync::Arc;

use etui_schema::vocabulary::{Effect, Site, Taper, Treatment};

use super::{TreatmentRules, check_wish};
use crate::evidence::Agreement;
use crate::rules::{Origin, RuleFault};
use crate::selection::desirability::Wish;
use crate::selection::form::Form;

/// What the site of a treatment wants.
#[loaded]
pub(in crate::selection) struct SiteWish {
    pub(in crate::selection) treatment: Treatment,
    /// The site assumed where none is told.
    pub(in crate::selection) default: Site,
    /// Other assumptions for some effects.
    #[serde(default)]
    pub(in crate::selection) default_for: Vec<SiteFor>,
    /// The sites that belong to the treatment.
    pub(in crate::selection) accepted: Vec<Site>,
    /// What is wished of the width of the track.
    pub(in crate::selection) band_width_mm: Wish,
    pub(in crate::selection) source: Origin,
    /// Key of what is said where the width leaves nothing to wish for.
    pub(in crate::selection) fits: String,
    /// Key of what is said where it does not.
    pub(in crate::selection) strains: String,
}

/// The site assumed for one effect.
#[loaded]
pub(in crate::selection) struct SiteFor {
    pub(in crate::selection) effect: Effect,
    pub(in crate::selection) site: Site,
}

impl SiteWish {
    /// The site assumed for an effect.
    pub(in crate::selection) fn assumed(&self, effect: Effect) -> Site {
        self.default_for.iter().find(|d| d.effect == effect).map_or(self.default, |d| d.site)
    }
}

/// What one effect wants.
#[loaded]
pub(in crate::selection) struct Want {
    pub(in crate::selection) effect: Effect,
    /// Key of the effect in words: "asks for …".
    pub(in crate::selection) asks: String,
    pub(in crate::selection) source: Origin,
    /// Diameter of one needle, in mm.
    pub(in crate::selection) diameter_mm: Wish,
    /// How far the trade agrees on it.
    pub(in crate::selection) diameter_agreement: Arc<str>,
    /// Width of the track over the diameter, where the effect cares. A measure
    /// of the group alone: group and diameter are wished for separately.
    pub(in crate::selection) breadth: Option<Wish>,
    pub(in crate::selection) taper: Taper,
    /// Distance of neighbouring hits along the travel, in mm, both inclusive.
    pub(in crate::selection) spacing_mm: [f64; 2],
    /// Usual number of passes, both inclusive.
    pub(in crate::selection) passes: [u8; 2],
    pub(in crate::selection) form: Vec<FormWish>,
    /// Forms that fail outright, with the reason.
    #[serde(default)]
    pub(in crate::selection) refused: Vec<Refused>,
    /// Forms that nobody works it with.
    #[serde(default)]
    aside: Vec<Form>,
}

/// How well one form serves an effect.
#[loaded]
pub(in crate::selection) struct FormWish {
    pub(in crate::selection) form: Form,
    /// Desirability of the form itself, above 0, up to 1.
    pub(in crate::selection) liking: f64,
    /// What is wished of the number of needles.
    pub(in crate::selection) points: Option<Wish>,
    /// Independent pages that say so, out of those that speak.
    pub(in crate::selection) agreement: Agreement,
    /// Key of what it does for the effect.
    pub(in crate::selection) because: Arc<str>,
}

/// A form that an effect rules out.
#[loaded]
pub(in crate::selection) struct Refused {
    pub(in crate::selection) form: Form,
    /// How far the trade agrees on it.
    #[serde(rename = "agreement")]
    _agreement: Agreement,
    /// Key of the reason.
    pub(in crate::selection) because: Arc<str>,
}

impl Want {
    /// How well a form serves; none where it is ruled out or not in use.
    pub(in crate::selection) fn form(&self, form: Form) -> Option<&FormWish> {
        self.form.iter().find(|f| f.form == form)
    }

    /// Why a form is ruled out in so many words.
    pub(in crate::selection) fn refused(&self, form: Form) -> Option<&Refused> {
        self.refused.iter().find(|f| f.form == form)
    }
}

/// Holds one treatment's wishes against what the formulas need.
pub(super) fn check(file: &str, rules: &TreatmentRules) -> Result<(), RuleFault> {
    let treatment = rules.site.treatment;
    check_wish(file, &format!("{treatment} band_width_mm"), rules.site.band_width_mm)?;
    for want in &rules.want {
        let place = format!("{treatment} {}", want.effect);
        check_wish(file, &format!("{place} diameter_mm"), want.diameter_mm)?;
        if let Some(wish) = want.breadth {
            check_wish(file, &format!("{place} breadth"), wish)?;
        }
        let [low, high] = want.spacing_mm;
        let [fewest, most] = want.passes;
        let rises = 0.0 < low && low < high && fewest <= most && 0 < fewest;
        let why = format!("{place}: spacing and passes must be rising ranges above 0");
        RuleFault::unless(rises, file, "/want", why)?;
        for form in Form::ALL {
            let told = want.form(*form).is_some() || want.refused(*form).is_some();
            let once = told != want.aside.contains(form);
            let why = format!("{place}, {form}: liked, refused or aside, and one of them");
            RuleFault::unless(once, file, "/want", why)?;
        }
        for form in &want.form {
            check_form(file, &place, want, form)?;
        }
    }
    Ok(())
}

fn check_form(file: &str, place: &str, want: &Want, form: &FormWish) -> Result<(), RuleFault> {
    let place = format!("{place}, {}", form.form);
    if let Some(points) = form.points {
        check_wish(file, &place, points)?;
    }
    let once = want.form.iter().filter(|other| other.form == form.form).count() == 1
        && want.refused(form.form).is_none();
    let liked = 0.0 < form.liking && form.liking <= 1.0;
    for (holds, why) in
        [(once, "the form is entered twice"), (liked, "liking must be above 0, up to 1")]
    {
        RuleFault::unless(holds, file, "/want", format!("{place}: {why}"))?;
    }
    Ok(())
}
