//! `/v1/configuration-drawings`.

use actix_web::web;
use etui_schema::access::Scope;
use etui_schema::problem::{Fault, FaultCode};

use super::answer::{Reply, tagged};
use super::call::Call;
use super::failure::Failure;
use super::operation::Operation;
use super::pictures::{PNG, SVG, encoded, preferred};
use super::query::pairs;
use crate::studio::configurations;
use etui_schema::configuration_comparisons::{DrawingQuery, PictureFormat};

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::get("/v1/configuration-drawings", "draw_configurations", || web::to(draw))
            .tag("configurations")
            .scope(Scope::Compute)
            .says(
                "Draw configurations",
                "The tips face on, to one scale, side by side, with a millimetre bar. `label` \
                 may stand up to 24 times.",
            )
            .query::<DrawingQuery>()
            .answers_with(200, "The picture.", vec![(SVG, None), (PNG, None)])
            .if_none_match()
            .errors([etui_schema::problem::ErrorCode::InvalidValue]),
    ]
}

async fn draw(call: Call) -> Reply {
    let asked = read(call.req.query_string())?;
    let media = match asked.format {
        Some(PictureFormat::Svg) => SVG,
        Some(PictureFormat::Png) => PNG,
        None => preferred(&call, &[SVG, PNG]),
    };
    let craft = &call.state.studio.craft;
    let width_px = asked.width.unwrap_or(960);
    let picture = configurations::draw(craft, &asked.label, width_px, call.language())?;
    tagged(&call, media, encoded(&picture, media)?)
}

/// Reads the query by hand: `label` may be repeated.
fn read(text: &str) -> Result<DrawingQuery, Failure> {
    let mut asked = DrawingQuery { label: Vec::new(), format: None, width: None };
    for (name, value) in pairs(text) {
        match name.as_str() {
            "label" if 120 < value.chars().count() => {
                let message = "a label of at most 120 characters is wanted";
                return Err(fault("label", FaultCode::WrongLength, message));
            }
            "label" => asked.label.push(value),
            "format" if asked.format.is_none() => {
                let wanted = "`svg` or `png` is wanted";
                let unknown = |_| fault("format", FaultCode::UnknownValue, wanted);
                asked.format = Some(value.parse().map_err(unknown)?);
            }
            "width" if asked.width.is_none() => {
                let wanted = "a whole number of pixels from 240 to 3000 is wanted";
                let width = value.parse().ok().filter(|w| (240..=3000).contains(w));
                asked.width =
                    Some(width.ok_or_else(|| fault("width", FaultCode::OutOfRange, wanted))?);
            }
            "format" | "width" => {
                return Err(fault(&name, FaultCode::Duplicate, "it stands twice; once is wanted"));
            }
            _ => {
                let shown: String = name.chars().take(60).collect();
                let message = "`label`, `format` and `width` are read";
                return Err(fault(&shown, FaultCode::UnknownField, message));
            }
        }
    }
    if asked.label.is_empty() {
        return Err(fault("label", FaultCode::Missing, "at least one `label` is wanted"));
    }
    Ok(asked)
}

fn fault(name: &str, code: FaultCode, message: &str) -> Failure {
    Failure::parameter(Fault::new(format!("query:{name}"), code, message))
}
