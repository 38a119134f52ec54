//! Configurations: side by side, drawn, and as patterns of punctures.

use etui_schema::configuration_comparisons::{
    ConfigurationComparison, ConfigurationComparisonRequest,
};
use etui_schema::configuration_drawings::{DrawingQuery, DrawingView, PictureFormat};
use etui_schema::needle_selections::{NeedleSelection, NeedleSelectionRequest};
use etui_schema::puncture_patterns::{PuncturePattern, PuncturePatternRequest};

use crate::builder::Client;
use crate::error::Error;

/// What needles do in skin.
impl Client {
    /// `POST /v1/configuration-comparisons`: configurations side by side.
    ///
    /// # Errors
    /// [`Error::Problem`] with a fault for each configuration that is not read.
    pub async fn compare_configurations(
        &self,
        request: &ConfigurationComparisonRequest,
    ) -> Result<ConfigurationComparison, Error> {
        self.post(&["v1", "configuration-comparisons"]).json(request)?.read().await
    }

    /// `GET /v1/configuration-drawings`: the bytes of a picture, SVG unless the
    /// query asks for PNG.
    ///
    /// # Errors
    /// [`Error::Problem`] with a fault for each label that is not read.
    pub async fn draw_configurations(&self, query: &DrawingQuery) -> Result<Vec<u8>, Error> {
        let DrawingQuery {
            label,
            format,
            width,
            view,
            site,
            depth_mm,
            age_years,
            thickness,
            effect,
            passes,
            stroke_mm,
            rate_hz,
            hand_speed_mm_s,
        } = query;
        let mut request = self.get(&["v1", "configuration-drawings"]);
        for one in label {
            request = request.query("label", one);
        }
        let (word, media) = media_of(format.unwrap_or(PictureFormat::Svg));
        request = request.query("format", word).accept(media);
        if let Some(width) = width {
            request = request.query("width", &width.to_string());
        }
        match view {
            Some(DrawingView::Tips) => request = request.query("view", "tips"),
            Some(DrawingView::Side) => request = request.query("view", "side"),
            Some(DrawingView::Passes) => request = request.query("view", "passes"),
            None => {}
        }
        let words = [
            ("site", site.map(|site| site.to_string())),
            ("depth_mm", depth_mm.map(|depth| depth.to_string())),
            ("age_years", age_years.map(|age| age.to_string())),
            ("thickness", thickness.map(|thickness| thickness.to_string())),
            ("effect", effect.map(|effect| effect.to_string())),
            ("passes", passes.map(|passes| passes.to_string())),
            ("stroke_mm", stroke_mm.map(|stroke| stroke.to_string())),
            ("rate_hz", rate_hz.map(|rate| rate.to_string())),
            ("hand_speed_mm_s", hand_speed_mm_s.map(|speed| speed.to_string())),
        ];
        for (name, word) in words {
            if let Some(word) = word {
                request = request.query(name, &word);
            }
        }
        request.read_bytes().await
    }

    /// `POST /v1/needle-selections`: which needle, and why.
    ///
    /// # Errors
    /// [`Error::Problem`] for an effect that makes no sense for the treatment,
    /// with a fault for each candidate that is not read, or if the token may
    /// not see the drawer that is to be chosen from.
    pub async fn select_needles(
        &self,
        request: &NeedleSelectionRequest,
    ) -> Result<NeedleSelection, Error> {
        self.post(&["v1", "needle-selections"]).json(request)?.read().await
    }

    /// `POST /v1/puncture-patterns`: the numbers of a simulated pattern.
    ///
    /// # Errors
    /// [`Error::Problem`] with a fault for each value that is refused.
    pub async fn simulate_pattern(
        &self,
        request: &PuncturePatternRequest,
    ) -> Result<PuncturePattern, Error> {
        self.post(&["v1", "puncture-patterns"]).json(request)?.read().await
    }

    /// The same pattern as a picture.
    ///
    /// # Errors
    /// As [`Client::simulate_pattern`].
    pub async fn draw_pattern(
        &self,
        request: &PuncturePatternRequest,
        format: PictureFormat,
    ) -> Result<Vec<u8>, Error> {
        let (_, media) = media_of(format);
        self.post(&["v1", "puncture-patterns"]).json(request)?.accept(media).read_bytes().await
    }
}

const fn media_of(format: PictureFormat) -> (&'static str, &'static str) {
    match format {
        PictureFormat::Svg => ("svg", "image/svg+xml"),
        PictureFormat::Png => ("png", "image/png"),
    }
}
