//! Letters as outlines of the fonts that are compiled in.
//!
//! A text of a picture is one line in one face, hung on its point. What Unicode has as one
//! character is one, whatever pieces it was typed in; each is a glyph of the font, or its box for
//! what it lacks; and pairs stand as near as its kerning says. Marks on which no one character ends
//! lie where the font lays them without its anchors, and it has no script that is joined or
//! written from the right.

use std::fmt::Write;

use icu_normalizer::{ComposingNormalizerBorrowed, DecomposingNormalizerBorrowed};
use icu_properties::CodePointSetData;
use icu_properties::props::DefaultIgnorableCodePoint;
use ttf_parser::gdef::GlyphClass;
use ttf_parser::gpos::{PairAdjustment, PairSets, PositioningSubtable};
use ttf_parser::opentype_layout::Coverage;
use ttf_parser::{Face, FaceParsingError, GlyphId, OutlineBuilder};

use super::svg::{Anchor, Fine, Lettering};
use crate::markup::allowed;

/// An SVG with an outline in place of each of its texts.
pub(super) fn outlined(svg: &str, texts: &[Lettering]) -> Result<String, FaceParsingError> {
    let (plain, bold) = (Font::read(notosans::REGULAR_TTF)?, Font::read(notosans::BOLD_TTF)?);
    let (mut outlined, mut done) = (String::with_capacity(2 * svg.len()), 0);
    for one in texts {
        outlined.push_str(svg.get(done..one.element.start).unwrap_or_default());
        let font = if one.face.bold { &bold } else { &plain };
        font.write(&mut outlined, one);
        done = one.element.end;
    }
    outlined.push_str(svg.get(done..).unwrap_or_default());
    Ok(outlined)
}

struct Font {
    face: Face<'static>,
    /// Kerning: first glyphs, and for each its second ones.
    pairs: Vec<(Coverage<'static>, PairSets<'static>)>,
}

/// Glyphs of a text, each with its place, and the width of all, in units of the font.
struct Line {
    glyphs: Vec<(GlyphId, f64)>,
    width: f64,
}

impl Font {
    fn read(data: &'static [u8]) -> Result<Self, FaceParsingError> {
        let face = Face::parse(data, 0)?;
        let lookups = face.tables().gpos.map(|table| table.lookups);
        let pairs = lookups
            .into_iter()
            .flatten()
            .flat_map(|lookup| lookup.subtables.into_iter::<PositioningSubtable<'_>>())
            .filter_map(|table| {
                if let PositioningSubtable::Pair(PairAdjustment::Format1 { coverage, sets }) = table
                {
                    return Some((coverage, sets));
                }
                None
            })
            .collect();
        Ok(Self { face, pairs })
    }

    fn write(&self, svg: &mut String, text: &Lettering) {
        let Line { glyphs, width } = self.line(&text.text);
        let scale = text.face.size / f64::from(self.face.units_per_em());
        let before = match text.face.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => 0.5 * width,
            Anchor::End => width,
        };
        // Writing to a String cannot fail.
        let _ = write!(svg, r#"<path fill="{}" d=""#, text.face.colour);
        for (glyph, x) in glyphs {
            let at = (text.at.0 + scale * (x - before), text.at.1);
            self.face.outline_glyph(glyph, &mut Pen { svg, at, scale });
        }
        svg.push_str("\"/>\n");
    }

    fn line(&self, text: &str) -> Line {
        let (mut glyphs, mut width, mut before) = (Vec::new(), 0.0, None);
        let classes = self.face.tables().gdef;
        for c in self.characters(text) {
            let glyph = self.face.glyph_index(c).unwrap_or_default();
            // Marks are passed over by kerning.
            if classes.and_then(|all| all.glyph_class(glyph)) != Some(GlyphClass::Mark) {
                let nearer = before.replace(glyph).and_then(|first| self.kerning(first, glyph));
                width += f64::from(nearer.unwrap_or(0));
            }
            glyphs.push((glyph, width));
            width += f64::from(self.face.glyph_hor_advance(glyph).unwrap_or(0));
        }
        Line { glyphs, width }
    }

    /// How much farther than its width the second of two glyphs stands from the first.
    fn kerning(&self, first: GlyphId, second: GlyphId) -> Option<i16> {
        self.pairs.iter().find_map(|(firsts, sets)| {
            let (moved, _) = sets.get(firsts.get(first)?)?.get(second)?;
            Some(moved.x_advance)
        })
    }

    /// What is seen of a text, composed as far as there are glyphs for it.
    fn characters(&self, text: &str) -> Vec<char> {
        let is_known = |c: char| self.face.glyph_index(c).is_some();
        let apart = DecomposingNormalizerBorrowed::new_nfd();
        let mut characters = Vec::with_capacity(text.len());
        for c in ComposingNormalizerBorrowed::new_nfc().normalize_iter(seen(text).chars()) {
            let parts: String = apart.normalize_iter(std::iter::once(c)).collect();
            if !is_known(c) && parts.chars().all(is_known) {
                characters.extend(parts.chars());
            } else {
                characters.push(c);
            }
        }
        characters
    }
}

/// What SVG shows of a text: blanks as one and none at its ends, nothing that has no looks.
fn seen(text: &str) -> String {
    let invisible = CodePointSetData::new::<DefaultIgnorableCodePoint>();
    let kept: String = allowed(text).filter(|c| !invisible.contains(*c)).collect();
    kept.split(' ').filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
}

/// Writes the outline of a glyph as path data.
struct Pen<'s> {
    svg: &'s mut String,
    /// Where the glyph stands on its line.
    at: (f64, f64),
    scale: f64,
}

impl Pen<'_> {
    /// Fonts count upwards, pictures downwards.
    fn draw<const N: usize>(&mut self, command: char, points: [(f32, f32); N]) {
        self.svg.push(command);
        for (n, (x, y)) in points.into_iter().enumerate() {
            let x = Fine(self.at.0 + self.scale * f64::from(x));
            let y = Fine(self.at.1 - self.scale * f64::from(y));
            let between = if n == 0 { "" } else { " " };
            let _ = write!(self.svg, "{between}{x} {y}");
        }
    }
}

impl OutlineBuilder for Pen<'_> {
    fn move_to(&mut self, x: f32, y: f32) {
        self.draw('M', [(x, y)]);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.draw('L', [(x, y)]);
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        self.draw('Q', [(x1, y1), (x, y)]);
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        self.draw('C', [(x1, y1), (x2, y2), (x, y)]);
    }

    fn close(&mut self) {
        self.svg.push('Z');
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use resvg::tiny_skia::Pixmap;
    use resvg::usvg::{Options, Tree};

    use super::super::svg::{Canvas, Face as Looks};
    use super::super::{Picture, Sheet};
    use super::*;

    fn fonts() -> [Font; 2] {
        [notosans::REGULAR_TTF, notosans::BOLD_TTF].map(|data| Font::read(data).unwrap())
    }

    /// A picture of 400 by 250 pixels.
    fn picture(draw: impl FnOnce(&mut Canvas)) -> Picture {
        let mut canvas = Canvas::default();
        draw(&mut canvas);
        Sheet { width: 400.0, zoom: 1.0 }.picture(canvas, 250.0, 1.0, ("", ""))
    }

    /// Left, top, right and bottom of what is dark.
    fn ink(picture: &Picture) -> Option<[u32; 4]> {
        let pixels = Pixmap::decode_png(&picture.png().unwrap()).unwrap();
        let mut ink: Option<[u32; 4]> = None;
        for y in 0..pixels.height() {
            for x in 0..pixels.width() {
                if pixels.pixel(x, y).unwrap().red() < 140 {
                    let [left, top, right, bottom] = ink.unwrap_or([x, y, x, y]);
                    ink = Some([left.min(x), top.min(y), right.max(x + 1), bottom.max(y + 1)]);
                }
            }
        }
        ink
    }

    /// Widths in 2048ths of the size, plain and bold: what HarfBuzz 15 makes of the same files. Of
    /// the ones with a star the table `hmtx` alone has another width: their letters are kerned.
    #[test]
    fn a_text_is_as_wide_as_the_font_has_it() {
        let [plain, bold] = fonts();
        for (text, wide, wide_bold) in [
            ("0.30 3RL", 8112.0, 8309.0),
            ("≤0,35→2", 8452.0, 8487.0),
            ("AVATAR To", 10189.0, 10804.0),      // * 10479, 11094
            ("W. «L'»", 6474.0, 7188.0),          // * 6604, 7318
            ("Größe: 0,35 mm", 15508.0, 16094.0), // * 15528, 16114
            ("тонкая Гд", 9621.0, 10447.0),       // * 9691, 10517
            ("λεπτή Τέ", 8306.0, 9163.0),         // * 8356, 9213
            // Typed in pieces, and with what is not seen.
            ("e\u{301}a\u{308}", 2304.0, 2447.0),
            ("i\u{301}", 528.0, 625.0),
            ("a\u{ad}b\u{fe0f}\u{200d}", 2409.0, 2533.0),
            ("  a \n b ", 2941.0, 3065.0),
            // Two boxes.
            ("針😀", 2458.0, 2458.0),
            ("", 0.0, 0.0),
        ] {
            for (font, want) in [(&plain, wide), (&bold, wide_bold)] {
                let found = font.line(text).width;
                assert!((found - want).abs() < 1e-9, "{text}: {found} instead of {want}");
            }
        }
    }

    /// The boxes are those of the table `glyf`, 100 pixels high, hung on (200, 150).
    #[test]
    fn letters_lie_where_they_are_hung() {
        let of = |text: &str, looks: Looks| {
            let picture = picture(|canvas| canvas.text(200.0, 150.0, looks, text));
            assert!(picture.svg.contains(&format!(">{text}</text>")), "{}", picture.svg);
            ink(&picture).unwrap()
        };
        let plain = Looks::plain(100.0);
        for (text, looks, want) in [
            ("H", plain, [209.7, 78.6, 264.3, 150.0]),
            ("H", plain.at(Anchor::Middle), [172.7, 78.6, 227.2, 150.0]),
            ("H", plain.at(Anchor::End), [135.6, 78.6, 190.2, 150.0]),
            ("H", plain.bold(), [209.0, 78.6, 267.5, 150.0]),
            ("H", plain.bold().at(Anchor::End), [132.5, 78.6, 191.0, 150.0]),
            ("p", plain, [208.5, 95.4, 256.0, 174.0]),
            // What the font lacks.
            ("針", plain, [209.4, 78.6, 250.5, 150.0]),
            ("HH", plain.at(Anchor::Middle), [135.6, 78.6, 264.3, 150.0]),
        ] {
            let found = of(text, looks);
            for (found, want) in found.into_iter().zip(want) {
                assert!((f64::from(found) - want).abs() <= 1.0, "{text} {looks:?}: {found} {want}");
            }
        }
    }

    #[test]
    fn what_is_drawn_after_a_text_lies_over_it() {
        let cover = |canvas: &mut Canvas| {
            canvas.raw(format_args!(r##"<rect width="400" height="250" fill="#eee"/>"##));
        };
        let write = |canvas: &mut Canvas| canvas.text(9.0, 99.0, Looks::plain(40.0), "3RL");
        let over = picture(|canvas| {
            cover(canvas);
            write(canvas);
        });
        let under = picture(|canvas| {
            write(canvas);
            cover(canvas);
        });
        assert!(ink(&over).is_some() && ink(&under).is_none());
    }

    /// Every character that markup may have, beside a letter of its own: it is seen, unless it is
    /// a blank or has no looks in any font.
    #[test]
    fn no_character_vanishes() {
        let invisible = CodePointSetData::new::<DefaultIgnorableCodePoint>();
        for font in fonts() {
            for c in ('!'..='\u{ffff}').chain(('\u{10000}'..=char::MAX).step_by(61)) {
                let text = c.to_string();
                if c.is_whitespace() || invisible.contains(c) || allowed(&text).next().is_none() {
                    continue;
                }
                let mut svg = String::new();
                for (glyph, _) in font.line(&text).glyphs {
                    let at = (0.0, 0.0);
                    font.face.outline_glyph(glyph, &mut Pen { svg: &mut svg, at, scale: 1.0 });
                }
                assert!(svg.ends_with('Z'), "{c:?}: {svg}");
            }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(64)))]

        /// Whatever is typed, a picture of it can be drawn.
        #[test]
        fn any_text_is_drawn(text in ".*", size in 0.0..200.0_f64, is_bold in any::<bool>()) {
            let plain = Looks::plain(size);
            let looks = if is_bold { plain.bold() } else { plain };
            let picture = picture(|canvas| canvas.text(9.0, 99.0, looks.at(Anchor::End), &text));
            let svg = outlined(&picture.svg, &picture.texts).unwrap();
            prop_assert!(!svg.contains("<text") && !svg.contains("NaN"), "{}", svg);
            prop_assert!(Tree::from_str(&svg, &Options::default()).is_ok(), "{}", svg);
        }
    }
}
