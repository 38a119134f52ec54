//! Simulating puncture patterns.

use etui_craft::configuration::draw::{Picture, draw_pattern};
use etui_craft::configuration::pattern::{
    Against, Ground, Jitter, Pattern, PatternError, PatternRequest, Statistics,
};
use etui_craft::configuration::{Complete, Measured, Model};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::puncture_patterns::{
    DotSpacing, ExpectedAndSimulated, FillArea, HandJitter, PuncturePattern,
    PuncturePatternRequest, StrokePath,
};
use etui_schema::vocabulary::{Configuration, Language};

use super::configuration_labels::{model_with, read};
use super::configurations::{cautions, circumstances, resolved, rounded};
use super::craft::Craft;
use super::error::Error;

/// Width of a picture that is not asked for otherwise.
const WIDTH_PX: u32 = 800;

/// A simulated pattern and what it came from.
pub struct Simulated<'a> {
    model: std::borrow::Cow<'a, Model>,
    request: PatternRequest,
    pattern: Pattern,
    statistics: Statistics,
    width_px: u32,
}

/// Simulates a pattern.
///
/// # Errors
/// [`Error::Refused`] for a configuration or parameter that is not read, for
/// neither or both of path and area, or for too many punctures.
pub fn simulate<'a>(
    craft: &'a Craft,
    request: &PuncturePatternRequest,
) -> Result<Simulated<'a>, Error> {
    let mut faults = Vec::new();
    let configuration = read(&craft.reader, &request.configuration, "#/configuration", None);
    let ground = ground_of(request.path, request.area);
    let loaded = model_with(&craft.model, &request.parameters);
    let (configuration, ground, model) = match (configuration, ground, loaded) {
        (Ok(configuration), Ok(ground), Ok(model)) => (configuration, ground, model),
        (configuration, ground, loaded) => {
            faults.extend(configuration.err());
            faults.extend(ground.err());
            faults.extend(loaded.err().into_iter().flatten());
            return Err(Error::Refused(faults));
        }
    };
    let mut circumstances = circumstances(&model, request.setting.as_ref());
    if let Some(passes) = request.passes {
        circumstances.passes = passes;
        circumstances.assumed.retain(|pointer| *pointer != "/passes");
    }
    let asked = PatternRequest {
        configuration,
        circumstances,
        ground,
        jitter: jitter_of(request.jitter),
        seed: request.seed,
    };
    let pattern = model.pattern(&asked).map_err(|why| refusal(&why, ground))?;
    let statistics = pattern.statistics(request.seed);
    let width_px = request.width_px.unwrap_or(WIDTH_PX);
    Ok(Simulated { model, request: asked, pattern, statistics, width_px })
}

fn ground_of(path: Option<StrokePath>, area: Option<FillArea>) -> Result<Ground, Fault> {
    match (path, area) {
        (Some(StrokePath { length_mm, bend_degrees: None }), None) => {
            Ok(Ground::Straight { length_mm })
        }
        (Some(StrokePath { length_mm, bend_degrees: Some(bend_deg) }), None) => {
            Ok(Ground::Hair { length_mm, bend_deg })
        }
        (None, Some(FillArea { width_mm, height_mm })) => Ok(Ground::Area { width_mm, height_mm }),
        (None, None) => Err(Fault::new("#", FaultCode::Missing, "a `path` or an `area` is needed")),
        (Some(_), Some(_)) => Err(Fault::new(
            "#/area",
            FaultCode::Contradiction,
            "a `path` and an `area` together: give either",
        )),
    }
}

fn jitter_of(told: Option<HandJitter>) -> Jitter {
    let usual = Jitter::default();
    let Some(HandJitter { pace, turn_degrees, wander_mm }) = told else { return usual };
    Jitter {
        pace: pace.unwrap_or(usual.pace),
        turn_deg: turn_degrees.unwrap_or(usual.turn_deg),
        wander_mm: wander_mm.unwrap_or(usual.wander_mm),
    }
}

fn refusal(why: &PatternError, ground: Ground) -> Error {
    let place = match ground {
        Ground::Area { .. } => "#/area",
        Ground::Straight { .. } | Ground::Hair { .. } => "#/path",
    };
    match why {
        PatternError::Range { what, .. } => {
            Error::at(format!("{place}/{what}"), FaultCode::OutOfRange, why.to_string())
        }
        PatternError::TooMany { .. } => Error::at(place, FaultCode::OutOfRange, why.to_string()),
    }
}

impl Simulated<'_> {
    /// The numbers.
    #[must_use]
    pub fn answer(&self, language: Language) -> PuncturePattern {
        let PatternRequest { configuration, circumstances, seed, .. } = &self.request;
        let Statistics {
            punctures,
            ground_mm2,
            punctures_per_mm2,
            coverage,
            repeat_hits,
            spacing,
            edge_roughness_mm,
            largest_gap_mm,
        } = self.statistics;
        let measures = self.model.measure(configuration, circumstances);
        let measured = Measured { configuration, measures: &measures };
        PuncturePattern {
            canonical: configuration.canonical(),
            configuration: Configuration::from(*configuration),
            setting: resolved(circumstances),
            seed: *seed,
            strokes: self.pattern.strokes,
            punctures,
            ground_mm2: rounded(ground_mm2),
            punctures_per_mm2: rounded(punctures_per_mm2),
            dot_diameter_mm: rounded(self.pattern.dot_diameter_mm),
            dot_area_mm2: rounded(self.pattern.dot_area_mm2),
            coverage: against(coverage),
            repeat_hits: against(repeat_hits),
            spacing: DotSpacing {
                strokes_mm: spacing.strokes_mm.map(rounded),
                nearest_mm: rounded(spacing.nearest_mm),
                regularity: rounded(spacing.regularity),
            },
            edge_roughness_mm: rounded(edge_roughness_mm),
            largest_gap_mm: rounded(largest_gap_mm),
            seconds: rounded(self.pattern.seconds),
            cautions: cautions(&self.model, measured, circumstances, language),
            basis: self.model.basis(&[*configuration], circumstances),
        }
    }

    /// The picture.
    #[must_use]
    pub fn picture(&self, language: Language) -> Picture {
        let configuration: &Complete = &self.request.configuration;
        draw_pattern(
            &self.model,
            configuration,
            &self.pattern,
            &self.statistics,
            (&self.request.circumstances, self.width_px),
            language,
        )
    }
}

fn against(share: Against) -> ExpectedAndSimulated {
    let Against { expected, simulated } = share;
    ExpectedAndSimulated { expected: rounded(expected), simulated: rounded(simulated) }
}
