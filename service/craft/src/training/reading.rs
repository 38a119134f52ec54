//! A picture of a sheet, read and told.
//!
//! What lies on the sheet follows from its drills, as it is printed, or is told. A
//! printer scales: millimetres of the frame are brought to those of a ruler.

use etui_schema::drills::{Drills, Target};
use etui_schema::sheet_readings::{
    CardPanel, PanelPlace, PanelReading, PictureMark, PictureQuality, PracticeCard,
    QuantityReading, SheetReading,
};
use etui_schema::vocabulary::{
    DrillKey, Language, Paper, Quantity, QuantityFault, SheetFault, Travel,
};

use super::Training;
use super::drills::bends_left;
use super::panels::{long_mm, stroke_mm, tidy};
use super::picture::{
    self, Bend, Layout, Limits, Measured, PanelKind, PictureError, Place, ReadError,
};
use super::reading_words::Told;
use super::sheet::{SheetError, placed, size_mm};

/// What lies under the frame.
#[derive(Debug, Clone, Copy)]
pub enum Sheet<'a> {
    /// Drills, as their sheet is printed.
    Printed(&'a Drills, Paper),
    /// A card of somebody's own.
    Told(&'a PracticeCard),
}

/// Why a picture is not read.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ReadingError {
    /// The bytes are no picture that is read.
    #[error(transparent)]
    Picture(#[from] PictureError),
    /// The drills make no sheet.
    #[error(transparent)]
    Sheet(#[from] SheetError),
    /// A panel of a card lacks what its drill needs.
    #[error("`{drill}` is measured by `{member}`, which is missing")]
    Missing {
        /// Which panel.
        at: usize,
        /// Its drill.
        drill: DrillKey,
        /// What is missing.
        member: &'static str,
    },
    /// A panel of a card lies outside its window.
    #[error("the panel lies outside the window, which begins 10 mm from the edges of the card")]
    Outside {
        /// Which panel.
        at: usize,
    },
    /// The panels of a card are more than one request measures.
    #[error(
        "a panel of at most {} mm² is measured, and all panels together up to {} mm²",
        PANEL_MM2,
        PANELS_MM2
    )]
    Large {
        /// The first panel that is too much.
        at: usize,
    },
}

/// A reading, and the code on the frame if there is one.
#[derive(Debug, Clone, PartialEq)]
pub struct Numbered {
    /// What was read.
    pub reading: SheetReading,
    /// Which sheet it is, as [`super::Numbered`] has it.
    pub code: Option<u32>,
}

/// A panel on its way through the reader.
struct Asked {
    number: u8,
    drill: DrillKey,
    place: Place,
    /// What is judged of it; everything that is measured if `None`.
    judged: Option<Vec<Target>>,
}

/// The width of a stroke that nobody told, in mm.
const LINE_MM: f64 = 0.3;
/// The most dots that a drill asks of one row.
const MOST_DOTS: u8 = 99;
/// The window begins so far from the edges, in mm; a hair for what is drawn on it.
const WINDOW_MM: f64 = 10.0;
/// Most area of a panel, and of all panels of one request, in mm²: at 600 dots an inch 1,000 mm²
/// took about a quarter of a second.
const PANEL_MM2: f64 = 4_000.0;
const PANELS_MM2: f64 = 16_000.0;

impl Training {
    /// Reads a picture of a sheet. A picture that cannot be measured is an answer that
    /// says why; bytes that are none are an error.
    ///
    /// # Errors
    /// [`ReadingError`].
    pub fn reading(
        &self,
        sheet: Sheet<'_>,
        picture: &[u8],
        bar_mm: Option<f64>,
        language: Language,
    ) -> Result<SheetReading, ReadingError> {
        Ok(self.numbered_reading(sheet, picture, bar_mm, language)?.reading)
    }

    /// Reads a picture of a sheet, and which sheet its frame says that it is.
    ///
    /// # Errors
    /// As [`Training::reading`].
    pub fn numbered_reading(
        &self,
        sheet: Sheet<'_>,
        picture: &[u8],
        bar_mm: Option<f64>,
        language: Language,
    ) -> Result<Numbered, ReadingError> {
        let (card_mm, asked) = match sheet {
            Sheet::Printed(drills, paper) => (size_mm(paper), printed(drills, paper)?),
            Sheet::Told(card) => ((card.width_mm, card.height_mm), told(card)?),
        };
        let scale = bar_mm.map_or(1.0, |bar| bar / 100.0);
        let panels = asked.iter().map(|one| one.place.on_frame(scale)).collect();
        let read = picture::read(picture, &Layout { card_mm, panels }, &Limits::default());
        let word = |why: SheetFault| self.cannot(why, language);
        let code = read.as_ref().ok().and_then(|read| read.code);
        let (quality, mark, cannot, measured) = match read {
            Ok(read) => (Some(read.quality), read.mark, Vec::new(), read.panels),
            Err(ReadError::Sheet(cannot, quality)) => {
                (quality, None, cannot.into_iter().map(word).collect(), Vec::new())
            }
            Err(ReadError::Size(width, height)) => {
                let other = self.other_size((width * scale, height * scale), card_mm, language);
                (None, None, vec![other], Vec::new())
            }
            Err(ReadError::Picture(error)) => return Err(error.into()),
        };
        let told = Told { quality: quality.as_ref(), scale, language };
        let panels = asked.iter().zip(&measured);
        let panels = panels.map(|(asked, found)| self.panel(asked, found, &told)).collect();
        let cautions = ["caution_experimental", "caution_unseen"];
        let reading = SheetReading {
            experimental: true,
            quality: quality.map(|quality| PictureQuality {
                dpi: tidy(quality.dpi / scale),
                blur_mm: tidy(quality.blur_mm * scale),
                noise: tidy(quality.noise),
                flatness_mm: tidy(quality.flatness_mm * scale),
                contrast: tidy(quality.contrast),
                jpeg_quality: quality.jpeg,
            }),
            mark: mark.map(|mark| PictureMark {
                diameter_mm: tidy(mark.diameter_mm * scale),
                darkness: tidy(mark.darkness),
            }),
            cannot,
            panels,
            cautions: cautions.map(|key| self.texts.get(language, key).to_owned()).to_vec(),
            basis: vec![self.rules.reading.source.basis("what is read off a picture")],
        };
        Ok(Numbered { reading, code })
    }

    fn panel(&self, asked: &Asked, found: &Measured, told: &Told<'_>) -> PanelReading {
        let Told { scale, language, .. } = *told;
        let value = |quantity: Quantity| {
            let found = found.values.iter().find(|(one, _)| *one == quantity);
            found.map_or(Err(QuantityFault::NotMeasured), |(_, value)| {
                value.map(|value| on_ruler(asked.drill, quantity, value, scale))
            })
        };
        let judged: Vec<(Quantity, Option<&Target>)> = match &asked.judged {
            Some(targets) => targets.iter().map(|one| (one.quantity, Some(one))).collect(),
            None => found.values.iter().map(|(quantity, _)| (*quantity, None)).collect(),
        };
        let quantities = judged.into_iter().map(|(quantity, target)| match value(quantity) {
            Ok(got) => self.number(quantity, got, target, told),
            Err(why) => {
                let text = self.fill(language, &cannot_key(asked.drill, why), &[]);
                let text = Some(text);
                QuantityReading { quantity, got: None, cannot: Some(why.into()), text }
            }
        });
        let gap = match asked.place.kind {
            PanelKind::Rows { .. } => Quantity::Skipped,
            PanelKind::Scattered
            | PanelKind::Strokes { .. }
            | PanelKind::Field
            | PanelKind::Unmeasured => Quantity::Gaps,
        };
        let at = |what: Quantity, (x, y): &(f64, f64)| PanelPlace {
            what,
            x_mm: tidy(x * scale),
            y_mm: tidy(y * scale),
        };
        let gaps = found.gaps_mm.iter().map(|place| at(gap, place));
        let spots = found.spots_mm.iter().map(|place| at(Quantity::Overworked, place));
        PanelReading {
            number: asked.number,
            drill: asked.drill,
            quantities: quantities.collect(),
            places: gaps.chain(spots).collect(),
        }
    }
}

/// By which words it is said why a quantity of a panel cannot be told.
fn cannot_key(drill: DrillKey, why: QuantityFault) -> String {
    match (drill, why) {
        (DrillKey::Circle, QuantityFault::NotMeasured) => "cannot_circle".to_owned(),
        // Of a whole picture the same word means another thing.
        (_, QuantityFault::TooNoisy) => "cannot_too_noisy_here".to_owned(),
        _ => format!("cannot_{why}"),
    }
}

/// What was measured on the frame, in millimetres of a ruler.
fn on_ruler(drill: DrillKey, quantity: Quantity, value: f64, scale: f64) -> f64 {
    match quantity {
        Quantity::SpacingMm
        | Quantity::OffLineMm
        | Quantity::MarkMm
        | Quantity::BareSquareMm
        | Quantity::WidthMm
        | Quantity::StraightnessMm
        | Quantity::BowMm
        | Quantity::RadiusSdMm
        | Quantity::ClosureMm => value * scale,
        // A field may fade to either side: what is asked is a fall.
        Quantity::TrendPerMm if drill == DrillKey::FadingField => -value.abs() / scale,
        Quantity::TrendPerMm => value / scale,
        Quantity::PerCm2 => value / (scale * scale),
        Quantity::Count
        | Quantity::Doubled
        | Quantity::Skipped
        | Quantity::SpacingCv
        | Quantity::Regularity
        | Quantity::WidthCv
        | Quantity::LiftOff
        | Quantity::Gaps
        | Quantity::Cover
        | Quantity::Evenness
        | Quantity::Stripes
        | Quantity::Overworked => value,
    }
}

impl Place {
    /// Lengths that were asked in millimetres of a ruler, in those of the frame.
    fn on_frame(&self, scale: f64) -> Self {
        let kind = match self.kind {
            PanelKind::Rows { rows, spacing_mm, dots } => {
                PanelKind::Rows { rows, spacing_mm: spacing_mm / scale, dots }
            }
            PanelKind::Strokes { spacing_mm, length_mm, width_mm, bend, runs_down } => {
                PanelKind::Strokes {
                    spacing_mm: spacing_mm / scale,
                    length_mm: length_mm / scale,
                    width_mm: width_mm / scale,
                    bend,
                    runs_down,
                }
            }
            other @ (PanelKind::Scattered | PanelKind::Field | PanelKind::Unmeasured) => other,
        };
        Self { kind, ..self.clone() }
    }
}

/// The panels of a sheet as it is printed.
fn printed(drills: &Drills, paper: Paper) -> Result<Vec<Asked>, ReadingError> {
    let of = |one: super::sheet::Placed<'_>| {
        let panel = one.panel;
        let asked = |quantity: Quantity| {
            panel.targets.iter().find(|target| target.quantity == quantity).map(|one| one.asked)
        };
        let spacing_mm = asked(Quantity::SpacingMm).unwrap_or(panel.step);
        let width_mm = asked(Quantity::WidthMm).unwrap_or(LINE_MM);
        let strokes = |spacing_mm, length_mm, bend, runs_down| PanelKind::Strokes {
            spacing_mm,
            length_mm,
            width_mm,
            bend,
            runs_down,
        };
        let rows = |rows: usize| {
            let count = asked(Quantity::Count).map(|count| tidy(count / rows as f64));
            let dots = (1..=MOST_DOTS).find(|many| count == Some(f64::from(*many)));
            PanelKind::Rows { rows, spacing_mm, dots: dots.map(usize::from) }
        };
        let side = if bends_left(panel, drills.seed) { Bend::Left } else { Bend::Right };
        let kind = match panel.drill {
            DrillKey::SingleDots => rows(1),
            DrillKey::DotRows => rows(3),
            DrillKey::ScatteredDots => PanelKind::Scattered,
            DrillKey::StraightStrokes => strokes(spacing_mm, stroke_mm(), Bend::None, true),
            DrillKey::CurvedStrokes => strokes(spacing_mm, stroke_mm(), side, true),
            DrillKey::LongLine => strokes(0.0, long_mm(), Bend::None, false),
            DrillKey::Circle => PanelKind::Unmeasured,
            DrillKey::Field | DrillKey::FadingField | DrillKey::BroadField => PanelKind::Field,
        };
        Asked {
            number: panel.number,
            drill: panel.drill,
            place: Place {
                kind,
                box_mm: [one.x, one.y, one.x + panel.width_mm, one.y + panel.height_mm],
            },
            judged: Some(panel.targets.clone()),
        }
    };
    Ok(placed(drills, paper)?.into_iter().map(of).collect())
}

/// The panels of a card that was told.
fn told(card: &PracticeCard) -> Result<Vec<Asked>, ReadingError> {
    let mut area_mm2 = 0.0;
    (1..)
        .zip(&card.panels)
        .enumerate()
        .map(|(at, (number, panel))| {
            let CardPanel { drill, left_mm, top_mm, width_mm, height_mm, .. } = *panel;
            let box_mm = [left_mm, top_mm, left_mm + width_mm, top_mm + height_mm];
            let [left, top, right, low] = box_mm;
            let inside = WINDOW_MM <= left
                && WINDOW_MM <= top
                && right <= card.width_mm - WINDOW_MM
                && low <= card.height_mm - WINDOW_MM;
            if !inside {
                return Err(ReadingError::Outside { at });
            }
            area_mm2 += width_mm * height_mm;
            if PANEL_MM2 < width_mm * height_mm || PANELS_MM2 < area_mm2 {
                return Err(ReadingError::Large { at });
            }
            Ok(Asked {
                number,
                drill,
                place: Place { kind: kind(at, panel)?, box_mm },
                judged: None,
            })
        })
        .collect()
}

fn kind(at: usize, panel: &CardPanel) -> Result<PanelKind, ReadingError> {
    let CardPanel { drill, spacing_mm, rows, length_mm, line_mm, runs, .. } = *panel;
    let needed =
        |value: Option<f64>, member| value.ok_or(ReadingError::Missing { at, drill, member });
    let rows_of = |usual: u8| -> Result<PanelKind, ReadingError> {
        let spacing_mm = needed(spacing_mm, "spacing_mm")?;
        Ok(PanelKind::Rows { rows: usize::from(rows.unwrap_or(usual)), spacing_mm, dots: None })
    };
    let strokes = |spacing_mm: f64, bend, usual| -> Result<PanelKind, ReadingError> {
        Ok(PanelKind::Strokes {
            spacing_mm,
            length_mm: needed(length_mm, "length_mm")?,
            width_mm: line_mm.unwrap_or(LINE_MM),
            bend,
            runs_down: runs.unwrap_or(usual) == Travel::Down,
        })
    };
    match drill {
        DrillKey::SingleDots => rows_of(1),
        DrillKey::DotRows => rows_of(3),
        DrillKey::ScatteredDots => Ok(PanelKind::Scattered),
        DrillKey::StraightStrokes => {
            strokes(needed(spacing_mm, "spacing_mm")?, Bend::None, Travel::Down)
        }
        DrillKey::CurvedStrokes => {
            strokes(needed(spacing_mm, "spacing_mm")?, Bend::Either, Travel::Down)
        }
        DrillKey::LongLine => strokes(0.0, Bend::None, Travel::Across),
        DrillKey::Circle => Ok(PanelKind::Unmeasured),
        DrillKey::Field | DrillKey::FadingField | DrillKey::BroadField => Ok(PanelKind::Field),
    }
}
