//! Configurations and patterns of punctures, drawn.

use etui_schema::configuration_drawings::{DrawingQuery, PictureFormat};
use etui_schema::endpoints;
use etui_schema::puncture_patterns::PuncturePatternRequest;

use crate::builder::Client;
use crate::error::Error;

/// What needles do in skin, as pictures.
impl Client {
    /// `GET /v1/configuration-drawings`: the bytes of a picture, SVG unless the
    /// query asks for PNG.
    ///
    /// # Errors
    /// [`Error::Problem`] with a fault for each label that is not read.
    pub async fn draw_configurations(&self, query: &DrawingQuery) -> Result<Vec<u8>, Error> {
        let media = media_of(query.format.unwrap_or(PictureFormat::Svg));
        let asked = self.to(endpoints::draw_configurations().at, &[]).query_of(query)?;
        asked.accept(media).read_bytes().await
    }

    /// [`Client::simulate_pattern`] as a picture.
    ///
    /// # Errors
    /// As [`Client::simulate_pattern`].
    pub async fn draw_pattern(
        &self,
        request: &PuncturePatternRequest,
        format: PictureFormat,
    ) -> Result<Vec<u8>, Error> {
        let asked = self.to(endpoints::simulate_pattern().at, &[]).json(request)?;
        asked.accept(media_of(format)).read_bytes().await
    }
}

const fn media_of(format: PictureFormat) -> &'static str {
    match format {
        PictureFormat::Svg => "image/svg+xml",
        PictureFormat::Png => "image/png",
    }
}
