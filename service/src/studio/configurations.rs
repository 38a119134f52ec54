//! Comparing configurations.

use etui_craft::configuration::{
    Cause, Circumstances, Compared, Comparison, Complete, Measured, Measures as Found, Model,
    OrderBy, REFERENCE, Stand,
};
use etui_schema::configuration_comparisons::{
    CautionText, ComparedConfiguration, ConfigurationComparison, ConfigurationComparisonRequest,
    ConfigurationOrder, Measures, ModelParameter, OrderFlip, OrderSensitivity, RelativeMeasures,
    ResolvedMachine, ResolvedSetting, TipReach, TraumaCause,
};
use etui_schema::problem::FaultCode;
use etui_schema::vocabulary::{Configuration, Language, Setting};

use super::configuration_labels::{model_with, read};
use super::craft::Craft;
use super::error::Error;

/// Compares configurations.
///
/// # Errors
/// [`Error::Refused`] with a fault for each configuration or parameter that is
/// not read.
pub fn compare(
    craft: &Craft,
    request: &ConfigurationComparisonRequest,
    language: Language,
) -> Result<ConfigurationComparison, Error> {
    let ConfigurationComparisonRequest { configurations, setting, parameters } = request;
    let mut faults = Vec::new();
    let mut complete = Vec::with_capacity(configurations.len());
    for (i, named) in configurations.iter().enumerate() {
        match read(&craft.reader, named, &format!("#/configurations/{i}"), None) {
            Ok(one) => complete.push(one),
            Err(fault) => faults.push(fault),
        }
    }
    let model = model_with(&craft.model, parameters).unwrap_or_else(|found| {
        faults.extend(found);
        std::borrow::Cow::Borrowed(&craft.model)
    });
    if !faults.is_empty() {
        return Err(Error::Refused(faults));
    }
    let circumstances = circumstances(&model, setting.as_ref());
    let comparison = model
        .compare(&complete, &circumstances)
        .map_err(|why| Error::at("#/configurations", FaultCode::WrongLength, why.to_string()))?;
    Ok(answer(&model, &complete, &circumstances, &comparison, language))
}

/// A setting as the model resolves it.
pub(super) fn circumstances(model: &Model, setting: Option<&Setting>) -> Circumstances {
    setting.map_or_else(|| model.circumstances(&Setting::default()), |s| model.circumstances(s))
}

fn answer(
    model: &Model,
    complete: &[Complete],
    circumstances: &Circumstances,
    comparison: &Comparison,
    language: Language,
) -> ConfigurationComparison {
    let first = &comparison.compared[0];
    let names: Vec<String> = complete.iter().map(Complete::canonical).collect();
    let named = |order: &[usize]| order.iter().map(|i| names[*i].clone()).collect();
    let sensitivity = OrderBy::ALL.map(|by| OrderSensitivity {
        order: by.as_str().to_owned(),
        holds: comparison.holds(by),
        flips: comparison
            .flips
            .iter()
            .filter(|flip| flip.order == by)
            .map(|flip| OrderFlip {
                parameter: flip.parameter.to_string(),
                value: flip.value,
                becomes: named(&flip.becomes),
            })
            .collect(),
    });
    let mut told: Vec<ComparedConfiguration> = comparison
        .compared
        .iter()
        .map(|one| compared(model, first, one, circumstances, language))
        .collect();
    let cautions = said_of_all(&mut told, |one| &mut one.cautions);
    ConfigurationComparison {
        setting: resolved(circumstances),
        cautions,
        compared: told,
        order: ConfigurationOrder {
            by_pressure: named(comparison.order(OrderBy::Pressure)),
            by_trauma: named(comparison.order(OrderBy::Trauma)),
            by_cover_rate: named(comparison.order(OrderBy::CoverRate)),
        },
        sensitivity: sensitivity.into(),
        parameters: parameters(model, complete),
        reference: REFERENCE.canonical(),
        statement: model.wording().statement(language).to_owned(),
        basis: model.basis(complete, circumstances),
    }
}

/// The resolved setting, as it is told.
pub(super) fn resolved(circumstances: &Circumstances) -> ResolvedSetting {
    let Circumstances {
        hand,
        stroke_mm,
        rate_hz,
        give,
        site,
        depth_mm,
        hand_speed_mm_s,
        passes,
        skin,
        assumed,
    } = circumstances;
    ResolvedSetting {
        hand: *hand,
        machine: ResolvedMachine { stroke_mm: *stroke_mm, rate_hz: *rate_hz, give: *give },
        skin: skin.clone(),
        site: *site,
        depth_mm: rounded(*depth_mm),
        hand_speed_mm_s: *hand_speed_mm_s,
        passes: *passes,
        assumed: assumed.iter().map(|pointer| (*pointer).to_owned()).collect(),
    }
}

fn compared(
    model: &Model,
    first: &Compared,
    one: &Compared,
    circumstances: &Circumstances,
    language: Language,
) -> ComparedConfiguration {
    let words = |compared: &'_ Compared| -> (Complete, Found) {
        let Compared { configuration, measures } = *compared;
        (configuration, measures)
    };
    let ((first_configuration, first_measures), (configuration, found)) =
        (words(first), words(one));
    let measured = Measured { configuration: &configuration, measures: &found };
    let is_first = std::ptr::eq(first, one);
    let against = Measured { configuration: &first_configuration, measures: &first_measures };
    ComparedConfiguration {
        canonical: configuration.canonical(),
        configuration: Configuration::from(configuration),
        measures: measures(model, &configuration, &found),
        relative: relative(&first_measures, &found),
        because: if is_first {
            model.wording().first(language).to_owned()
        } else {
            model.wording().difference(language, against, measured)
        },
        cautions: cautions(model, measured, circumstances, language),
    }
}

/// Cautions in words.
pub(super) fn cautions(
    model: &Model,
    measured: Measured<'_>,
    circumstances: &Circumstances,
    language: Language,
) -> Vec<CautionText> {
    let told = |caution: etui_craft::configuration::Caution| CautionText {
        code: caution.as_str().to_owned(),
        message: model.wording().caution(language, caution, measured, circumstances),
    };
    measured.measures.cautions.iter().map(told).collect()
}

fn measures(model: &Model, configuration: &Complete, found: &Found) -> Measures {
    let round = Stand::of(configuration.grouping) == Stand::Round;
    let layout = model.layout(configuration.grouping, configuration.count);
    Measures {
        band_width_mm: rounded(found.band_width_mm),
        footprint_mm2: rounded(found.footprint_mm2),
        tips_per_mm2: rounded(found.tips_per_mm2),
        hole_diameter_mm: rounded(found.hole_diameter_mm),
        hole_area_mm2: rounded(found.hole_area_mm2),
        stroke_area_mm2: rounded(found.stroke_area_mm2),
        mark_diameter_mm: rounded(found.mark_diameter_mm),
        pressure_index: rounded(found.pressure_index),
        sharing_tips: rounded(found.sharing_tips),
        tip_speed_mm_s: rounded(found.tip_speed_mm_s),
        entry_speed_mm_s: rounded(found.entry_speed_mm_s),
        dwell_ms: rounded(found.dwell_ms),
        strokes_per_mm: rounded(found.strokes_per_mm),
        punctures_per_mm2: rounded(found.punctures_per_mm2),
        coverage: rounded(found.coverage),
        repeat_hits: rounded(found.repeat_hits),
        colour_coverage: rounded(found.colour_coverage),
        passes_to_cover: found.passes_to_cover,
        seconds_per_cm2: rounded(found.seconds_per_cm2),
        trauma_index: rounded(found.trauma_index),
        depth_share: rounded(found.depth_share),
        nearest_gap_mm: found.nearest_gap_mm.map(rounded),
        trauma_causes: found
            .trauma
            .shares()
            .map(|(cause, share)| told(found, cause, share))
            .collect(),
        tips: TipReach {
            deepest_mm: rounded(found.depths.deepest_mm),
            shallowest_mm: rounded(found.depths.shallowest_mm),
            mean_mm: rounded(found.depths.mean_mm),
            in_skin: found.depths.in_skin,
        },
        rings: if round { layout.rings() } else { Vec::new() },
    }
}

fn told(found: &Found, cause: Cause, share: f64) -> TraumaCause {
    TraumaCause {
        cause: cause.as_str().to_owned(),
        factor: rounded(found.trauma.factor(cause)),
        share: rounded(share),
    }
}

fn relative(first: &Found, one: &Found) -> RelativeMeasures {
    let ratio = |of: fn(&Found) -> f64| match (of(one), of(first)) {
        // Nothing over nothing is the same; only an entry speed can be 0.
        (this, base) if base <= 0.0 => f64::from(u8::from(this <= 0.0)),
        (this, base) => rounded(this / base),
    };
    RelativeMeasures {
        band_width_mm: ratio(|m| m.band_width_mm),
        footprint_mm2: ratio(|m| m.footprint_mm2),
        tips_per_mm2: ratio(|m| m.tips_per_mm2),
        hole_diameter_mm: ratio(|m| m.hole_diameter_mm),
        hole_area_mm2: ratio(|m| m.hole_area_mm2),
        stroke_area_mm2: ratio(|m| m.stroke_area_mm2),
        mark_diameter_mm: ratio(|m| m.mark_diameter_mm),
        pressure_index: ratio(|m| m.pressure_index),
        sharing_tips: ratio(|m| m.sharing_tips),
        tip_speed_mm_s: ratio(|m| m.tip_speed_mm_s),
        entry_speed_mm_s: ratio(|m| m.entry_speed_mm_s),
        dwell_ms: ratio(|m| m.dwell_ms),
        strokes_per_mm: ratio(|m| m.strokes_per_mm),
        punctures_per_mm2: ratio(|m| m.punctures_per_mm2),
        coverage: ratio(|m| m.coverage),
        repeat_hits: ratio(|m| m.repeat_hits),
        colour_coverage: ratio(|m| m.colour_coverage),
        passes_to_cover: ratio(|m| f64::from(m.passes_to_cover)),
        seconds_per_cm2: ratio(|m| m.seconds_per_cm2),
        trauma_index: ratio(|m| m.trauma_index),
        depth_share: ratio(|m| m.depth_share),
        nearest_gap_mm: one.nearest_gap_mm.zip(first.nearest_gap_mm).map(|(a, b)| rounded(a / b)),
    }
}

fn parameters(model: &Model, complete: &[Complete]) -> Vec<ModelParameter> {
    let in_force = model.parameters();
    let told = |parameter: etui_craft::configuration::Parameter| {
        let about = in_force.specification(parameter);
        ModelParameter {
            name: parameter.to_string(),
            value: in_force.get(parameter),
            assumed: !in_force.is_changed(parameter),
            low: about.range[0],
            high: about.range[1],
            unit: about.unit.clone(),
            about: about.about.clone(),
            source: about.source.id().to_string(),
        }
    };
    model.parameters_of(complete).into_iter().map(told).collect()
}

/// What each of several needles is cautioned of, taken out of them: it is said
/// once for all. Of one needle alone nothing is taken.
pub fn said_of_all<R, N: PartialEq>(
    ranked: &mut [R],
    cautions: impl Fn(&mut R) -> &mut Vec<N>,
) -> Vec<N> {
    let [first, rest @ ..] = ranked else { return Vec::new() };
    if rest.is_empty() {
        return Vec::new();
    }
    let (shared, own): (Vec<N>, Vec<N>) = std::mem::take(cautions(first))
        .into_iter()
        .partition(|caution| rest.iter_mut().all(|one| cautions(one).contains(caution)));
    *cautions(first) = own;
    for one in rest {
        cautions(one).retain(|caution| !shared.contains(caution));
    }
    shared
}

/// A number to nine significant digits: what lies behind is rounding, and
/// differs between machines.
pub(super) fn rounded(value: f64) -> f64 {
    const DIGITS: usize = 9;
    /// The powers of ten that are exact.
    const POWERS: [f64; 23] = [
        1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
        1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
    ];
    let size = value.abs();
    // By comparison: a logarithm could differ between machines.
    let before_point = POWERS.partition_point(|power| *power <= size);
    if DIGITS <= before_point {
        return value.round();
    }
    let zeros = if before_point == 0 && size != 0.0 {
        POWERS.iter().position(|power| 1.0 <= size * power * 10.0)
    } else {
        Some(0)
    };
    match zeros.and_then(|zeros| POWERS.get(DIGITS - before_point + zeros)) {
        Some(scale) => (value * scale).round() / scale,
        None => value,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    #[expect(clippy::float_cmp, reason = "the nearest number to a decimal is one number")]
    fn nine_digits_stay() {
        for value in
            [0.0, 1.0, -2.5, 0.1 + 0.2, 1.0 / 3.0, 200.0 / 3.0, 9.999_999_999_9, 1e-7 / 3.0]
        {
            let wanted: f64 = format!("{value:.8e}").parse().unwrap();
            assert_eq!(rounded(value), wanted, "{value}");
            assert_eq!(rounded(-value), -wanted, "{value}");
        }
        assert_eq!(rounded(123_456_789_012.7), 123_456_789_013.0);
        assert!(rounded(f64::NAN).is_nan());
        assert_eq!(rounded(1e-30), 1e-30);
    }
}
