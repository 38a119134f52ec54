//! `/v1/configuration-drawings`.

use etui_schema::endpoints;

use super::answer::{Reply, tagged};
use super::call::Call;
use super::compute::compute;
use super::handler::to;
use super::operation::Operation;
use super::pictures::{PNG, SVG, encoded, preferred};
use super::query::Query;
use crate::studio::{Studio, configuration_drawings};
use etui_schema::configuration_drawings::{DrawingQuery, DrawingView, PictureFormat};

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::draw_configurations(), || to(draw))
            .speaks()
            .says(
                "Draw configurations",
                "The tips face on, to one scale, side by side, with a millimetre bar; `label` \
                 may stand up to 24 times. Or, with `view=side`, one or two of them from the side in \
                 the layers of the skin of `site` and of a client's age and thickness, with taper \
                 and depth to scale. Or, with `view=passes`, what one to four of them leave in \
                 the skin pass by pass for an `effect`; machine and speed stand in the picture.",
            )
            .answers(200, "The picture.")
            .or_as(&[PNG])
            .if_none_match(),
    ]
}

async fn draw(call: Call, Query(asked): Query<DrawingQuery>) -> Reply {
    let media = match asked.format {
        Some(PictureFormat::Svg) => SVG,
        Some(PictureFormat::Png) => PNG,
        None => preferred(&call, &[SVG, PNG]),
    };
    let language = call.language();
    let is_simulated = asked.view == Some(DrawingView::Passes);
    let work = move |studio: &Studio| {
        encoded(&configuration_drawings::draw(&studio.craft, &asked, language)?, media)
    };
    let long = media == PNG || is_simulated;
    tagged(&call, media, compute(&call, long, work).await?)
}
