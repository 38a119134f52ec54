//! Drawing configurations.

use etui_craft::configuration::COMPARED_MAX;
use etui_craft::configuration::Complete;
use etui_craft::configuration::draw::{
    BESIDE_MAX, Grid, Picture, ROWS_MAX, Specimen, draw_passes, draw_side, draw_tips, sample,
};
use etui_schema::configuration_drawings::{DrawingQuery, DrawingView};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::{Effect, Language, Machine, Setting, Skin};

use super::configuration_labels::read_text;
use super::craft::Craft;
use super::error::Error;

/// Pixels of a picture whose width nobody names.
const USUAL_WIDTH_PX: u32 = 960;

/// Columns of a picture whose passes nobody names.
const USUAL_PASSES: u8 = 3;

/// Draws configurations given as text: the tips of all side by side, one or two
/// from the side in the skin, or what they leave in it pass by pass.
///
/// # Errors
/// [`Error::Refused`] with a fault for each label that is not read, for more
/// than the view can show, for what the view does not show, or for a picture of
/// passes without an effect that is worked in passes.
pub fn draw(craft: &Craft, asked: &DrawingQuery, language: Language) -> Result<Picture, Error> {
    let view = asked.view.unwrap_or(DrawingView::Tips);
    let most = match view {
        DrawingView::Tips => COMPARED_MAX,
        DrawingView::Side => BESIDE_MAX,
        DrawingView::Passes => ROWS_MAX,
    };
    let labels = &asked.label;
    if labels.is_empty() || most < labels.len() {
        let message = format!("{} labels; this view shows 1 to {most}", labels.len());
        return Err(Error::at("query:label", FaultCode::WrongLength, message));
    }
    let mut faults: Vec<Fault> = Vec::new();
    let mut specimens = Vec::with_capacity(labels.len());
    for label in labels {
        match read_text(&craft.reader, label, "query:label", None) {
            Ok(configuration) => {
                let caption = (label.trim() != configuration.canonical()).then(|| label.clone());
                specimens.push(Specimen { configuration, caption });
            }
            Err(fault) => faults.push(fault),
        }
    }
    faults.extend(not_shown(asked, view));
    if !faults.is_empty() {
        return Err(Error::Refused(faults));
    }
    let width_px = asked.width.unwrap_or(USUAL_WIDTH_PX);
    let setting = setting(asked)?;
    let shown: Vec<Complete> = specimens.iter().map(|one| one.configuration).collect();
    match view {
        DrawingView::Tips => Ok(draw_tips(&craft.model, &specimens, width_px, language)),
        DrawingView::Side => {
            let circumstances = craft.model.circumstances(&setting);
            Ok(draw_side(&craft.model, &shown, &circumstances, width_px, language))
        }
        DrawingView::Passes => passes(craft, asked, &shown, (&setting, width_px), language),
    }
}

/// What stands in the query and this view does not show.
fn not_shown(asked: &DrawingQuery, view: DrawingView) -> Vec<Fault> {
    const SKIN: &[DrawingView] = &[DrawingView::Side, DrawingView::Passes];
    const SIDE: &[DrawingView] = &[DrawingView::Side];
    const PASSES: &[DrawingView] = &[DrawingView::Passes];
    let DrawingQuery {
        label: _,
        format: _,
        width: _,
        view: _,
        site,
        depth_mm,
        age_years,
        thickness,
        effect,
        passes,
        stroke_mm,
        rate_hz,
        hand_speed_mm_s,
    } = asked;
    let told = [
        ("site", site.is_some(), SKIN),
        ("depth_mm", depth_mm.is_some(), SKIN),
        ("age_years", age_years.is_some(), SIDE),
        ("thickness", thickness.is_some(), SIDE),
        ("effect", effect.is_some(), PASSES),
        ("passes", passes.is_some(), PASSES),
        ("stroke_mm", stroke_mm.is_some(), PASSES),
        ("rate_hz", rate_hz.is_some(), PASSES),
        ("hand_speed_mm_s", hand_speed_mm_s.is_some(), PASSES),
    ];
    let fault = |(name, stands, views): (&str, bool, &[DrawingView])| {
        let message = match views {
            _ if !stands || views.contains(&view) => return None,
            [DrawingView::Passes] => "only `view=passes` shows what is worked",
            [DrawingView::Side] => "only `view=side` shows the skin of a client",
            _ => "only `view=side` and `view=passes` show the skin",
        };
        Some(Fault::new(format!("query:{name}"), FaultCode::NotAllowed, message))
    };
    told.into_iter().filter_map(fault).collect()
}

fn setting(asked: &DrawingQuery) -> Result<Setting, Error> {
    if asked.age_years.is_some_and(|age| 120 < age) {
        return Err(Error::at("query:age_years", FaultCode::OutOfRange, "it is above 120"));
    }
    let skin = Skin { age_years: asked.age_years, thickness: asked.thickness, ..Skin::default() };
    let machine = Machine { stroke_mm: asked.stroke_mm, rate_hz: asked.rate_hz, give: None };
    Ok(Setting {
        site: asked.site,
        depth_mm: asked.depth_mm,
        hand_speed_mm_s: asked.hand_speed_mm_s,
        skin: Some(skin).filter(|skin| *skin != Skin::default()),
        machine: Some(machine),
        ..Setting::default()
    })
}

fn passes(
    craft: &Craft,
    asked: &DrawingQuery,
    configurations: &[Complete],
    (setting, width_px): (&Setting, u32),
    language: Language,
) -> Result<Picture, Error> {
    let accepted = || {
        let words = Effect::ALL.iter().filter(|effect| sample(**effect).is_some());
        words.map(|effect| format!("`{effect}`")).collect::<Vec<_>>().join(", ")
    };
    let Some(effect) = asked.effect else {
        let message = format!("`view=passes` needs one; accepted: {}", accepted());
        return Err(Error::at("query:effect", FaultCode::Missing, message));
    };
    let Some(ground) = sample(effect) else {
        let message = format!("`{effect}` is set point by point; accepted: {}", accepted());
        return Err(Error::at("query:effect", FaultCode::NotAllowed, message));
    };
    let grid = Grid {
        configurations,
        circumstances: &craft.model.circumstances(setting),
        passes: asked.passes.unwrap_or(USUAL_PASSES),
        ground,
        effect: craft.sheets.effect(effect, language),
    };
    draw_passes(&craft.model, &grid, width_px, language)
        .map_err(|why| Error::at("query:label", FaultCode::OutOfRange, why.to_string()))
}
