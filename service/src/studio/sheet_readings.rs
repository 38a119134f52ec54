//! Practice sheets read off pictures: the craft's answers, and its refusals at their
//! places. Nothing of a picture is kept.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use etui_craft::refusal::Refusal;
use etui_craft::training::{NumberedReading, PictureError, ReadingError, SheetError, SheetOf};
use etui_schema::drills::Drills;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::sheet_readings::{SheetReading, SheetReadingRequest};
use etui_schema::vocabulary::{Language, Paper};

use super::craft::Craft;
use super::drills;
use super::error::Error;

/// Bytes of a picture that are read.
const MOST_BYTES: usize = 24 * 1024 * 1024;

/// Reads a picture.
///
/// # Errors
/// [`Error::Refused`] for bytes that are no picture that is read, and for a sheet that
/// is not told, told twice, or cannot be.
pub fn read(
    craft: &Craft,
    request: SheetReadingRequest,
    language: Language,
) -> Result<SheetReading, Error> {
    let SheetReadingRequest { drills, card, bar_mm, picture } = request;
    let bytes = bytes_of(&picture)?;
    drop(picture);
    let read = |sheet: SheetOf<'_>| {
        craft.training.reading(sheet, &bytes, bar_mm, language).map_err(|error| refused(&error))
    };
    match (drills, card) {
        (Some(asked), None) => {
            let made = drills::make_at(craft, &asked, "#/drills", language)?;
            read(SheetOf::Printed(&made, asked.paper.unwrap_or(Paper::A4)))
        }
        (None, Some(card)) => read(SheetOf::Told(&card)),
        (None, None) => {
            let why = "what lies on the sheet is told by `drills` or by `card`";
            Err(Error::at("#/card", FaultCode::Missing, why))
        }
        (Some(_), Some(_)) => {
            let why = "what lies on the sheet is told by `drills` or by `card`, not by both";
            Err(Error::at("#/card", FaultCode::Contradiction, why))
        }
    }
}

/// Reads a picture of a numbered sheet, as it was printed.
///
/// # Errors
/// [`Error::Refused`] for bytes that are no picture that is read, for a picture that cannot
/// be measured, with each word that holds, and for one of another sheet.
pub fn read_numbered(
    craft: &Craft,
    (drills, paper, code): (&Drills, Paper, u32),
    (picture, bar_mm): (String, Option<f64>),
    language: Language,
) -> Result<SheetReading, Error> {
    let bytes = bytes_of(&picture)?;
    drop(picture);
    let sheet = SheetOf::Printed(drills, paper);
    let read = craft.training.numbered_reading(sheet, &bytes, bar_mm, language);
    let NumberedReading { reading, code: found } = read.map_err(|error| refused(&error))?;
    let not = |code, why: &str| Error::at("#/picture", code, why);
    if !reading.cannot.is_empty() {
        let words = reading.cannot.iter().map(|one| format!("{}: {}", one.why, one.text));
        let message = words.collect::<Vec<_>>().join(" ");
        let said: Vec<&str> = reading.cannot.iter().map(|one| &*one.text).collect();
        let fault = Fault::new("#/picture", FaultCode::NotAllowed, message);
        return Err(Error::Refused(vec![fault.saying(Some(said.join(" ")))]));
    }
    match found {
        Some(found) if found == code => Ok(reading),
        Some(_) => {
            let why = "the code on its frame is another sheet's";
            Err(not(FaultCode::Contradiction, why).means(Refusal::SheetOther))
        }
        None => {
            let why = "the code at the lower edge of its frame cannot be read; print the sheet anew if it has none";
            Err(not(FaultCode::Missing, why).means(Refusal::SheetUnread))
        }
    }
}

fn bytes_of(picture: &str) -> Result<Vec<u8>, Error> {
    if MOST_BYTES / 3 * 4 < picture.len() {
        let why = "pictures of up to 24 MiB are read; scan in grey, as a PNG";
        return Err(Error::at("#/picture", FaultCode::OutOfRange, why));
    }
    STANDARD.decode(picture).map_err(|_| {
        let why = "this is no base64; the bytes of a PNG or JPEG in base64 are read, padded and on one line";
        Error::at("#/picture", FaultCode::WrongFormat, why)
    })
}

fn refused(error: &ReadingError) -> Error {
    let (place, code) = match error {
        ReadingError::Picture(PictureError::TooLarge { .. }) => {
            ("#/picture".to_owned(), FaultCode::OutOfRange)
        }
        ReadingError::Picture(
            PictureError::Unknown | PictureError::Form { .. } | PictureError::Broken,
        ) => ("#/picture".to_owned(), FaultCode::NotAllowed),
        ReadingError::Sheet(SheetError::TooSmall { .. }) => {
            ("#/drills/paper".to_owned(), FaultCode::NotAllowed)
        }
        ReadingError::Sheet(SheetError::Nothing) => {
            ("#/drills/configuration".to_owned(), FaultCode::NotAllowed)
        }
        ReadingError::Missing { at, member, .. } => {
            (format!("#/card/panels/{at}/{member}"), FaultCode::Missing)
        }
        ReadingError::Outside { at } | ReadingError::Large { at } => {
            (format!("#/card/panels/{at}"), FaultCode::OutOfRange)
        }
    };
    Error::at(place, code, error.to_string())
}
