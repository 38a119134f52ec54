//! The printed sheet: true to the millimetre, nothing over anything else.

use etui_schema::drills::{DrillRequest, Drills};
use etui_schema::vocabulary::{
    Configuration, DrillKey, Effect, Grouping, Language, Paper, Quantity, SheetFault,
};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

use super::super::sheet::{GAP_MM, WORDS_MM, cell_mm, marks_mm, placed, size_mm, wrapped};
use super::super::{Numbered, SheetError, SheetOf};
use super::drills::request;
use super::{near, tools, training};

fn drills(effect: Option<Effect>) -> Drills {
    let (model, selector) = tools();
    let asked = DrillRequest { effect, ..request() };
    training().drills((model, selector), &asked, Language::En).unwrap()
}

/// Rendered at 600 dots an inch, each mark's dot is where it should be.
#[test]
fn marks_are_found_where_they_were_asked() {
    const PER_MM: f32 = 600.0 / 25.4;
    let svg = training().sheet(&drills(None), Paper::A6, None, Language::En);
    let svg = svg
        .or_else(|_| {
            training().sheet(&drills(Some(Effect::HairStrokes)), Paper::A6, None, Language::En)
        })
        .unwrap();
    assert!(
        svg.contains(r#"width="148mm" height="105mm" viewBox="0 0 148 105""#),
        "{}",
        &svg[..200]
    );
    let tree = Tree::from_str(&svg, &Options::default()).unwrap();
    let scale = PER_MM * 148.0 / tree.size().width();
    let (width, height) = ((148.0 * PER_MM).ceil(), (105.0 * PER_MM).ceil());
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a few thousand pixels"
    )]
    let mut picture = Pixmap::new(width as u32, height as u32).unwrap();
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut picture.as_mut());
    let per_mm = f64::from(PER_MM);
    for (x, y) in marks_mm(Paper::A6) {
        // The weighted middle of what is dark within 1.5 mm: the dot, not its ring.
        let (mut sum, mut at_x, mut at_y) = (0.0, 0.0, 0.0);
        for row in 0..picture.height() {
            let from = (f64::from(row) + 0.5) / per_mm - y;
            if 1.5 < from.abs() {
                continue;
            }
            for column in 0..picture.width() {
                let across = (f64::from(column) + 0.5) / per_mm - x;
                if across.hypot(from) <= 1.5 {
                    let pixel = picture.pixel(column, row).unwrap();
                    let dark = 1.0 - f64::from(pixel.red()) / 255.0;
                    (sum, at_x, at_y) = (sum + dark, at_x + dark * across, at_y + dark * from);
                }
            }
        }
        near(at_x / sum, 0.0, 0.02, "across");
        near(at_y / sum, 0.0, 0.02, "along");
        near(sum / per_mm / per_mm, std::f64::consts::PI, 0.05, "area of the dot");
    }
}

/// The printed sheet at 600 dots an inch, skin in its window, is read back: its marks lie
/// where they were asked, and what is bare says so.
#[test]
fn the_printed_sheet_is_read_back() {
    let asked = drills(Some(Effect::HairStrokes));
    let png = scanned(&asked, |(across, down), value| {
        let in_window = (10.0..200.0).contains(&across) && (10.0..138.0).contains(&down);
        if in_window { 200 } else { value }
    });
    let sheet = SheetOf::Printed(&asked, Paper::A5);
    let read = training().reading(sheet, &png, None, Language::En).unwrap();
    assert!(read.cannot.is_empty(), "{:?}", read.cannot);
    let quality = read.quality.unwrap();
    // The marks of two corners are 200 mm apart.
    near(quality.dpi, 600.0, 600.0 * 0.02 / 200.0, "the scale");
    near(quality.flatness_mm, 0.0, 0.02, "the marks in the middle");
    assert_eq!(read.panels.len(), asked.panels.len());
    for panel in &read.panels {
        assert!(panel.quantities.iter().all(|one| one.got.is_none() && one.text.is_some()));
    }
}

/// The A5 sheet of drills at 600 dots an inch, each pixel as something makes it of its
/// place and its grey.
fn scanned(asked: &Drills, pixel: impl Fn((f64, f64), u8) -> u8) -> Vec<u8> {
    rendered(&training().sheet(asked, Paper::A5, None, Language::En).unwrap(), pixel)
}

/// An A5 sheet as [`scanned`] has it.
fn rendered(svg: &str, pixel: impl Fn((f64, f64), u8) -> u8) -> Vec<u8> {
    let tree = Tree::from_str(svg, &Options::default()).unwrap();
    let scale = 600.0 / 25.4 * 210.0 / tree.size().width();
    let mut picture = Pixmap::new(4_961, 3_496).unwrap();
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut picture.as_mut());
    let per_mm = 600.0 / 25.4;
    let mut grey = Vec::new();
    for y in 0..picture.height() {
        for x in 0..picture.width() {
            let place = ((f64::from(x) + 0.5) / per_mm, (f64::from(y) + 0.5) / per_mm);
            grey.push(pixel(place, picture.pixel(x, y).unwrap().red().clamp(40, 245)));
        }
    }
    let mut png = Vec::new();
    let mut encoder = png::Encoder::new(&mut png, picture.width(), picture.height());
    encoder.set_color(png::ColorType::Grayscale);
    encoder.write_header().unwrap().write_image_data(&grey).unwrap();
    png
}

/// Drawn on the print itself, its outlines are none of what was drawn; and read as another
/// paper, the sheet says which it is.
#[test]
fn an_outline_is_not_counted_and_another_paper_is_named() {
    let asked = drills(Some(Effect::HairStrokes));
    let all = placed(&asked, Paper::A5).unwrap();
    let first = all.iter().find(|one| one.panel.drill == DrillKey::SingleDots).unwrap();
    let (left, middle) = (first.x + 3.0, first.y + 0.5 * first.panel.height_mm);
    let png = scanned(&asked, |(x, y), value| {
        let nearest = ((x - left) / 2.0).round().clamp(0.0, 19.0);
        let is_dot = (x - left - 2.0 * nearest).hypot(y - middle) < 0.15;
        if is_dot { 70 } else { value }
    });
    let sheet = SheetOf::Printed(&asked, Paper::A5);
    let read = training().reading(sheet, &png, None, Language::En).unwrap();
    let dots = read.panels.iter().find(|panel| panel.drill == DrillKey::SingleDots).unwrap();
    let count = dots.quantities.iter().find(|one| one.quantity == Quantity::Count).unwrap();
    assert_eq!(count.got, Some(20.0), "{dots:?}");
    for (paper, language) in [(Paper::A6, Language::En), (Paper::A4, Language::De)] {
        let sheet = SheetOf::Printed(&asked, paper);
        let read = training().reading(sheet, &png, None, language).unwrap();
        let why: Vec<SheetFault> = read.cannot.iter().filter_map(|one| one.why.known()).collect();
        assert_eq!(why, [SheetFault::WrongSize], "{paper}");
        for word in ["A5", "210 × 148"] {
            assert!(read.cannot[0].text.contains(word), "{paper}: {}", read.cannot[0].text);
        }
        assert!(read.panels.is_empty() && read.quality.is_none(), "{paper}");
    }
}

/// The sheet says that its panels are cut out along their lines; some cut out all of the
/// window, and nobody cuts to the tenth of a millimetre. Paper is lighter than skin: wherever
/// it begins, what lies on the skin is the same.
#[test]
fn however_a_sheet_is_cut_out_the_same_is_read() {
    let asked = drills(Some(Effect::HairStrokes));
    let all = placed(&asked, Paper::A5).unwrap();
    let is_colour = |x: f64, y: f64| {
        all.iter().any(|one| {
            let (x, y) = (x - one.x, y - one.y);
            let nearest = |from: f64, step: f64, last: f64| {
                from + step * ((x - from) / step).round().clamp(0.0, last)
            };
            if one.panel.drill == DrillKey::SingleDots {
                let middle = (nearest(3.0, 2.0, 19.0), 0.5 * one.panel.height_mm);
                return (x - middle.0).hypot(y - middle.1) < 0.12;
            }
            let first = 0.5 * (one.panel.width_mm - 7.0 * one.panel.step);
            one.panel.drill == DrillKey::StraightStrokes
                && (x - nearest(first, one.panel.step, 7.0)).abs() < 0.15
                && (1.0..11.0).contains(&y)
        })
    };
    // By how much a panel is cut out farther than it is judged; its line stands 0.8 mm off.
    for (case, cut) in [("window", None), ("lines", Some(0.8)), ("inside them", Some(0.5))] {
        let png = scanned(&asked, |(x, y), value| {
            let in_window = (10.0..200.0).contains(&x) && (10.0..138.0).contains(&y);
            let is_skin = in_window
                && cut.is_none_or(|cut| {
                    all.iter().any(|one| {
                        let (right, low) =
                            (one.x + one.panel.width_mm, one.y + one.panel.height_mm);
                        (one.x - cut..right + cut).contains(&x)
                            && (one.y - cut..low + cut).contains(&y)
                    })
                });
            match (is_skin, is_skin && is_colour(x, y)) {
                (_, true) => 125,
                (true, false) => 205,
                (false, false) => value.min(243),
            }
        });
        let sheet = SheetOf::Printed(&asked, Paper::A5);
        let read = training().reading(sheet, &png, None, Language::En).unwrap();
        for panel in &read.panels {
            let of = |quantity: Quantity| {
                let one = panel.quantities.iter().find(|one| one.quantity == quantity);
                one.and_then(|one| one.got)
            };
            let all = [(DrillKey::SingleDots, 20.0), (DrillKey::StraightStrokes, 8.0)];
            let Some((_, want)) = all.into_iter().find(|(drill, _)| *drill == panel.drill) else {
                continue;
            };
            assert_eq!(of(Quantity::Count), Some(want), "{case}: {panel:?}");
            if let Some(width) = of(Quantity::WidthMm) {
                near(width, 0.3, 0.015, case);
            }
        }
    }
}

/// The frame of a numbered sheet says which it is, whole or turned round; covered or smeared
/// in one place it says nothing.
#[test]
fn a_numbered_frame_says_which_sheet_it_is() {
    let asked = drills(Some(Effect::HairStrokes));
    let window = |(across, down): (f64, f64)| {
        (10.0..200.0).contains(&across) && (10.0..138.0).contains(&down)
    };
    let read = |code: u32, mend: &dyn Fn((f64, f64), u8) -> u8| {
        let numbered = Numbered {
            number: 3,
            artist: "student-03",
            hand_in_until: jiff::civil::date(2027, 3, 24),
            code,
        };
        let svg = training().sheet(&asked, Paper::A5, Some(numbered), Language::De).unwrap();
        let png = rendered(&svg, |at, value| if window(at) { 200 } else { mend(at, value) });
        let sheet = SheetOf::Printed(&asked, Paper::A5);
        let read = training().numbered_reading(sheet, &png, None, Language::En).unwrap();
        assert!(read.reading.cannot.is_empty(), "{code}: {:?}", read.reading.cannot);
        read.code
    };
    for code in [0, 0x00ff_ffff, 0x00a5_3c99] {
        assert_eq!(read(code, &|_, value| value), Some(code), "{code:x}");
    }
    // The code of an A5 sheet stands 110.5 to 163.3 mm from the left, 142 to 144 from above.
    let around = |(x, y): (f64, f64), from: f64, to: f64| {
        (from..to).contains(&x) && (141.0..145.0).contains(&y)
    };
    let thumb = |at, value| if around(at, 120.0, 123.0) { 180 } else { value };
    assert_eq!(read(0x00a5_3c99, &thumb), None, "a thumb on it");
    let inked = |at, value| if around(at, 150.0, 153.0) { 45 } else { value };
    assert_eq!(read(0x00a5_3c99, &inked), None, "ink on it");
    let bare =
        rendered(&training().sheet(&asked, Paper::A5, None, Language::En).unwrap(), |at, value| {
            if window(at) { 200 } else { value }
        });
    let sheet = SheetOf::Printed(&asked, Paper::A5);
    let bare = training().numbered_reading(sheet, &bare, None, Language::En).unwrap();
    assert_eq!(bare.code, None, "a sheet without a number");
}

/// Which sheet it is, whose and until when stands on it, in one language, whichever its
/// drills were made in; and nothing that a panel asks is left out.
#[test]
fn a_sheet_says_which_it_is_and_everything_that_it_asks() {
    let (model, selector) = tools();
    let artist = "student.with-a-long-reference_0123456789-0123456789-0123456789-0";
    let numbered = Some(Numbered {
        number: 12,
        artist,
        hand_in_until: jiff::civil::date(2027, 3, 24),
        code: 0,
    });
    let configurations = [
        (0.30, 3, Grouping::RoundLiner),
        (0.25, 1, Grouping::RoundLiner),
        (0.30, 5, Grouping::RoundShader),
        (0.35, 15, Grouping::CurvedMagnum),
        (0.30, 7, Grouping::Flat),
    ];
    for (language, own, other) in [
        (Language::De, ["Bogen 12, abgeben bis 24. März 2027", "Für: ", "Feld 2: "], "Panel"),
        (Language::En, ["Sheet 12, hand in until 24 March 2027", "For: ", "Panel 2: "], "Feld"),
    ] {
        for (diameter_mm, count, grouping) in configurations {
            for made_in in [Language::De, Language::En] {
                let configuration = Configuration {
                    diameter_mm: Some(diameter_mm),
                    count: Some(count),
                    grouping: Some(grouping),
                    ..request().configuration
                };
                let asked = DrillRequest { configuration, ..request() };
                let drills = training().drills((model, selector), &asked, made_in).unwrap();
                let svg = match training().sheet(&drills, Paper::A4, numbered, language) {
                    Ok(svg) => svg,
                    Err(SheetError::Nothing) => continue,
                    Err(why) => panic!("{why}"),
                };
                for word in own.iter().copied().chain([artist]) {
                    assert!(svg.contains(word), "{language} {grouping}: no {word}");
                }
                assert!(!svg.contains(other) && !svg.contains('…'), "{language} {grouping}");
                let texts = svg.split("</text>").filter_map(|one| one.rsplit('>').next());
                let said = texts.collect::<Vec<_>>().join(" ").replace('\u{a0}', " ");
                for panel in &drills.panels {
                    let asks = training().asks(panel, drills.seed, language);
                    assert!(said.contains(&asks), "{asks} is not wholly in {said}");
                    let (size, _) = wrapped(&asks, cell_mm(panel) - GAP_MM);
                    assert!(1.7 <= size, "{asks}: {size}");
                    let fine = asks.split([' ', ';']).any(|word| {
                        let digits = word.split_once(['.', ',']).map_or("", |(_, after)| after);
                        1 < digits.chars().take_while(char::is_ascii_digit).count()
                    });
                    assert!(!fine, "finer than somebody would say: {asks}");
                }
            }
        }
    }
    let svg = training().sheet(&drills(None), Paper::A4, None, Language::De).unwrap();
    assert!(svg.contains("Ohne Nummer, zählt nicht"), "{}", &svg[..400]);
}

#[test]
fn panels_lie_inside_the_window_and_over_nothing() {
    for paper in Paper::ALL {
        let (width, height) = size_mm(*paper);
        for effect in [None, Some(Effect::HairStrokes), Some(Effect::SoftShading)] {
            let drills = drills(effect);
            let all = match placed(&drills, *paper) {
                Ok(all) => all,
                Err(SheetError::TooSmall { fit, panels, .. }) => {
                    assert!(fit < panels && *paper != Paper::A4, "{paper} {effect:?}");
                    continue;
                }
                Err(SheetError::Nothing) => {
                    assert!(drills.panels.is_empty(), "{paper} {effect:?}");
                    continue;
                }
            };
            assert_eq!(all.len(), drills.panels.len());
            for (at, one) in all.iter().enumerate() {
                let (right, low) = (one.x + one.panel.width_mm, one.y + one.panel.height_mm);
                assert!(10.0 <= one.x && 10.0 <= one.y, "{paper} {one:?}");
                assert!(
                    right <= width - 10.0 && low + WORDS_MM <= height - 10.0,
                    "{paper} {one:?}"
                );
                for other in &all[..at] {
                    let beside = other.x + other.panel.width_mm < one.x || right < other.x;
                    let apart = other.y + other.panel.height_mm + WORDS_MM <= one.y
                        || low + WORDS_MM <= other.y;
                    assert!(beside || apart, "{paper}: {one:?} over {other:?}");
                }
            }
        }
    }
}

#[test]
fn the_same_drills_give_the_same_sheet() {
    let sheet = |language| training().sheet(&drills(None), Paper::A4, None, language).unwrap();
    assert_eq!(sheet(Language::En), sheet(Language::En));
    assert_ne!(sheet(Language::En), sheet(Language::De));
    let svg = sheet(Language::De);
    assert_eq!(svg.matches(r#"class="mark""#).count(), 6);
    assert!(svg.contains(r#"class="ruler" x="98.5""#) && svg.contains(r#"width="100""#));
}
