//! A small writer of SVG: escaped, XML 1.0 characters only, short numbers.

use std::fmt::Write;
use std::ops::Range;

use etui_schema::vocabulary::Language;

use crate::markup::Escaped;
use crate::text::number;

/// Paper, ink and greys. Contrast of ink on paper is above 12 to 1.
pub(super) const PAPER: &str = "#fffdf8";
pub(crate) const INK: &str = "#20262d";
pub(crate) const GREY: &str = "#5d656d";
pub(crate) const STEEL: &str = "#c9ced3";

/// Families tried in turn; the first is the one compiled in for PNG.
const FONTS: &str = "Noto Sans, DejaVu Sans, Verdana, sans-serif";

/// Where a text hangs on its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// How a text looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Face {
    pub(super) size: f64,
    pub(super) colour: &'static str,
    pub(super) bold: bool,
    pub(super) anchor: Anchor,
}

impl Face {
    pub(crate) const fn plain(size: f64) -> Self {
        Self { size, colour: INK, bold: false, anchor: Anchor::Start }
    }

    pub(super) const fn grey(self) -> Self {
        Self { colour: GREY, ..self }
    }

    pub(crate) const fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    pub(crate) const fn size(self) -> f64 {
        self.size
    }

    pub(crate) const fn scaled(self, by: f64) -> Self {
        Self { size: self.size * by, ..self }
    }

    pub(crate) const fn at(self, anchor: Anchor) -> Self {
        Self { anchor, ..self }
    }
}

/// A text of a picture, for who draws letters by himself.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Lettering {
    /// Where its element stands in the SVG.
    pub(super) element: Range<usize>,
    pub(super) at: (f64, f64),
    pub(super) face: Face,
    pub(super) text: String,
}

/// A finished SVG, and what is written in it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Drawn {
    pub(crate) svg: String,
    pub(super) texts: Vec<Lettering>,
}

/// The body of a picture under way.
#[derive(Debug, Default)]
pub(crate) struct Canvas {
    body: String,
    texts: Vec<Lettering>,
}

impl Canvas {
    /// Adds raw markup made of numbers and fixed words only.
    pub(crate) fn raw(&mut self, markup: std::fmt::Arguments<'_>) {
        // Writing to a String cannot fail.
        let _ = self.body.write_fmt(markup);
        self.body.push('\n');
    }

    pub(crate) fn line(&mut self, from: (f64, f64), to: (f64, f64), stroke: &str, width: f64) {
        self.raw(format_args!(
            r#"<line x1="{}" y1="{}" x2="{}" y2="{}" stroke="{stroke}" stroke-width="{}"/>"#,
            Short(from.0),
            Short(from.1),
            Short(to.0),
            Short(to.1),
            Short(width)
        ));
    }

    pub(crate) fn text(&mut self, x: f64, y: f64, face: Face, text: &str) {
        let anchor = match face.anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let weight = if face.bold { r#" font-weight="bold""# } else { "" };
        let start = self.body.len();
        self.raw(format_args!(
            r#"<text x="{}" y="{}" font-size="{}" fill="{}" text-anchor="{anchor}"{weight}>{}</text>"#,
            Short(x),
            Short(y),
            Short(face.size),
            face.colour,
            Escaped(text)
        ));
        let element = start..self.body.len();
        self.texts.push(Lettering { element, at: (x, y), face, text: text.to_owned() });
    }

    /// Title and note at the top, made smaller where they would not fit, the
    /// note over several lines at need. Returns the y below them.
    pub(super) fn heading(&mut self, margin: f64, width: f64, title: &str, note: &str) -> f64 {
        let room = width - 2.0 * margin;
        let size = (16.0 * room / (1.06 * text_width(title, 16.0))).clamp(9.0, 16.0);
        let title = cut_to(title, 1.06 * size, room);
        self.text(margin, margin + 8.0, Face::plain(size).bold(), &title);
        self.lines((margin, margin + 26.0), room, Face::plain(12.0).grey(), note) + 2.0
    }

    /// A text over as many lines as it needs. Returns the y of the line below.
    pub(crate) fn lines(&mut self, (x, y): (f64, f64), room: f64, face: Face, text: &str) -> f64 {
        let (mut y, mut line) = (y, String::new());
        for word in words(text) {
            let longer = if line.is_empty() { word.clone() } else { format!("{line} {word}") };
            if room < text_width(&longer, face.size) && !line.is_empty() {
                self.text(x, y, face, &line);
                y += 16.0;
                line = word;
            } else {
                line = longer;
            }
        }
        self.text(x, y, face, &line);
        y + 16.0
    }

    /// A millimetre bar with ticks, its length true to the scale.
    ///
    /// Returns the y below its caption.
    pub(super) fn bar(
        &mut self,
        (x, y): (f64, f64),
        px_per_mm: f64,
        room_px: f64,
        language: Language,
    ) -> f64 {
        let length_mm = bar_length_mm(px_per_mm, room_px);
        let length = length_mm * px_per_mm;
        self.raw(format_args!(
            r#"<rect class="bar" x="{}" y="{}" width="{}" height="5" fill="{INK}"/>"#,
            Short(x),
            Short(y),
            Fine(length)
        ));
        for tenth in 1..10 {
            let at = x + length * f64::from(tenth) / 10.0;
            let height = if tenth == 5 { 5.0 } else { 3.0 };
            self.line((at, y), (at, y + height), PAPER, 1.0);
        }
        let caption = format!("{} mm", number(language, &length_mm.to_string()));
        self.text(x + length + 8.0, y + 8.0, Face::plain(12.0), &caption);
        y + 14.0
    }

    /// Closes the picture: paper, title, description, body.
    pub(super) fn finish(
        self,
        (width, height): (f64, f64),
        zoom: f64,
        title: &str,
        description: &str,
    ) -> Drawn {
        let shown = (width * zoom, height * zoom);
        self.closed((width, height), shown, ("", PAPER), (title, description))
    }

    /// Closes a picture whose unit is the millimetre, on white paper.
    pub(crate) fn finish_mm(self, size_mm: (f64, f64), title: &str, description: &str) -> Drawn {
        self.closed(size_mm, size_mm, ("mm", "#fff"), (title, description))
    }

    /// Closes a picture of any unit and paper.
    pub(crate) fn closed(
        self,
        (width, height): (f64, f64),
        (wide, high): (f64, f64),
        (unit, paper): (&str, &str),
        (title, description): (&str, &str),
    ) -> Drawn {
        let Self { body, mut texts } = self;
        let mut svg = String::with_capacity(body.len() + 700);
        let (w, h) = (Short(width), Short(height));
        let _ = write!(
            svg,
            concat!(
                r#"<svg xmlns="http://www.w3.org/2000/svg" width="{wide}{unit}" height="{high}{unit}" "#,
                r#"viewBox="0 0 {w} {h}" role="img" aria-labelledby="title description" "#,
                r#"font-family="{fonts}">"#,
                "\n<title id=\"title\">{title}</title>\n",
                "<desc id=\"description\">{description}</desc>\n",
                r#"<rect width="{w}" height="{h}" fill="{paper}"/>"#,
                "\n"
            ),
            w = w,
            h = h,
            wide = Short(wide),
            high = Short(high),
            unit = unit,
            fonts = FONTS,
            title = Escaped(title),
            description = Escaped(description),
            paper = paper
        );
        for Lettering { element, .. } in &mut texts {
            *element = svg.len() + element.start..svg.len() + element.end;
        }
        svg.push_str(&body);
        svg.push_str("</svg>\n");
        Drawn { svg, texts }
    }
}

/// The longest round length that fits, out of 1, 2 and 5 by tens.
fn bar_length_mm(px_per_mm: f64, room_px: f64) -> f64 {
    const LENGTHS_MM: [f64; 7] = [20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2];
    let wanted = room_px.min(220.0);
    LENGTHS_MM.into_iter().find(|mm| mm * px_per_mm <= wanted).unwrap_or(0.1)
}

/// What a line is broken between: words, each number with its unit.
fn words(text: &str) -> Vec<String> {
    let is_unit = |word: &str| word.starts_with('%') || word.starts_with("mm");
    let mut words: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match words.last_mut() {
            Some(number) if is_unit(word) && number.ends_with(|c: char| c.is_ascii_digit()) => {
                number.push(' ');
                number.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
    }
    words
}

/// About how wide a text is, in pixels; a little on the wide side.
pub(crate) fn text_width(text: &str, size: f64) -> f64 {
    let em = |c: char| match c {
        'i' | 'l' | 'j' | '.' | ',' | ':' | ';' | '|' | '!' | '\'' | ' ' => 0.30,
        'm' | 'w' | 'M' | 'W' | 'Щ' | 'Ш' | 'Ж' | 'Ю' | 'ш' | 'щ' | 'ж' | 'ю' | 'Ω' | '@' => {
            0.95
        }
        c if c.is_ascii_digit() => 0.58,
        c if c.is_uppercase() => 0.70,
        c if c.is_ascii() => 0.58,
        c if (c as u32) < 0x2000 => 0.64,
        _ => 1.05,
    };
    size * text.chars().map(em).sum::<f64>()
}

/// A text cut to a width, with an ellipsis where it was cut.
pub(super) fn cut_to(text: &str, size: f64, room: f64) -> String {
    if text_width(text, size) <= room {
        return text.to_owned();
    }
    let mut kept = String::new();
    for c in text.chars() {
        kept.push(c);
        if room < text_width(&kept, size) + 0.9 * size {
            kept.pop();
            break;
        }
    }
    kept.push('…');
    kept
}

/// A number with at most two decimals and no idle zeros.
pub(crate) struct Short(pub(crate) f64);

impl std::fmt::Display for Short {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        trimmed(f, self.0, 2)
    }
}

/// A number with at most four decimals and no idle zeros.
pub(crate) struct Fine(pub(crate) f64);

impl std::fmt::Display for Fine {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        trimmed(f, self.0, 4)
    }
}

fn trimmed(f: &mut std::fmt::Formatter<'_>, value: f64, digits: usize) -> std::fmt::Result {
    let text = format!("{value:.digits$}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    f.write_str(if text == "-0" { "0" } else { text })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short() {
        for (value, want) in [(1.0, "1"), (0.125, "0.12"), (-0.001, "0"), (12.5, "12.5")] {
            assert_eq!(Short(value).to_string(), want);
        }
    }

    #[test]
    fn a_bar_is_a_round_length_that_fits() {
        for (scale, room, want) in
            [(150.0, 400.0, 1.0), (30.0, 400.0, 5.0), (10.0, 90.0, 5.0), (1000.0, 400.0, 0.2)]
        {
            let found = bar_length_mm(scale, room);
            assert!((found - want).abs() < 1e-12, "{scale} px/mm: {found}");
        }
    }
}
