//! Draws sample pictures into a folder, to be looked at.
//!
//! ```text
//! cargo run -p etui-craft --example pictures -- target/pictures
//! ```

use std::error::Error;
use std::path::PathBuf;

use etui_craft::configuration::draw::{
    Grid, Picture, Specimen, draw_passes, draw_pattern, draw_side, draw_tips, sample,
};
use etui_craft::configuration::pattern::{Ground, Jitter, PatternRequest};
use etui_craft::configuration::{Complete, Model};
use etui_schema::vocabulary::{Effect, Grouping, Language, Setting, Site, Taper};

fn complete(diameter_mm: f64, count: u8, grouping: Grouping, taper: Option<Taper>) -> Complete {
    Complete { diameter_mm, count, grouping, taper }
}

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).ok_or("name a folder")?);
    std::fs::create_dir_all(&folder)?;
    let model = Model::builtin()?;
    let save = |name: &str, picture: &Picture| -> Result<(), Box<dyn Error>> {
        std::fs::write(folder.join(format!("{name}.svg")), &picture.svg)?;
        std::fs::write(folder.join(format!("{name}.png")), picture.png()?)?;
        Ok(())
    };
    let plain = |configuration| Specimen { configuration, caption: None };
    let every: Vec<Specimen> =
        Grouping::ALL.iter().map(|grouping| plain(complete(0.30, 7, *grouping, None))).collect();
    save("groupings", &draw_tips(&model, &every, 960, Language::En))?;
    let captions = [
        "1003RL ST",
        "тонкая игла 0,20",
        "λεπτή βελόνα Ω",
        "Ø0.35 & <fein> \"äöüß\" long long label text",
    ];
    let captioned: Vec<Specimen> = captions
        .iter()
        .zip([
            complete(0.30, 3, Grouping::RoundLiner, Some(Taper::Short)),
            complete(0.20, 1, Grouping::RoundLiner, None),
            complete(0.25, 5, Grouping::RoundShader, Some(Taper::ExtraLong)),
            complete(0.35, 15, Grouping::CurvedMagnum, None),
        ])
        .map(|(caption, configuration)| Specimen {
            configuration,
            caption: Some((*caption).to_owned()),
        })
        .collect();
    save("captions", &draw_tips(&model, &captioned, 720, Language::De))?;
    let rounds: Vec<Specimen> =
        (1..=24).map(|n| plain(complete(0.30, 2 * n, Grouping::RoundLiner, None))).collect();
    save("rounds", &draw_tips(&model, &rounds, 960, Language::En))?;
    save(
        "widest",
        &draw_tips(
            &model,
            &[plain(complete(0.40, 49, Grouping::WovenMagnum, None))],
            400,
            Language::En,
        ),
    )?;
    save(
        "single",
        &draw_tips(
            &model,
            &[plain(complete(0.20, 1, Grouping::RoundLiner, None))],
            240,
            Language::En,
        ),
    )?;
    for (name, configuration, site, depth_mm) in [
        ("side_brow", complete(0.30, 3, Grouping::RoundLiner, Some(Taper::Long)), Site::Brow, None),
        (
            "side_lash",
            complete(0.25, 1, Grouping::RoundLiner, Some(Taper::Medium)),
            Site::LashLine,
            Some(0.5),
        ),
        (
            "side_curved",
            complete(0.30, 15, Grouping::CurvedMagnum, Some(Taper::Short)),
            Site::Areola,
            None,
        ),
        (
            "side_sloped",
            complete(0.30, 7, Grouping::SlopedFlat, Some(Taper::Short)),
            Site::Lip,
            None,
        ),
        ("side_wide", complete(0.35, 49, Grouping::WovenMagnum, None), Site::Scalp, Some(3.0)),
    ] {
        let told = Setting { site: Some(site), depth_mm, ..Setting::default() };
        let circumstances = model.circumstances(&told);
        save(name, &draw_side(&model, &[configuration], &circumstances, 720, Language::En))?;
    }
    save(
        "side_de",
        &draw_side(
            &model,
            &[complete(0.30, 5, Grouping::Flat, None)],
            &model.circumstances(&Setting { site: Some(Site::UpperLid), ..Setting::default() }),
            480,
            Language::De,
        ),
    )?;
    for (name, ground, configuration, passes) in [
        (
            "pattern_straight",
            Ground::Straight { length_mm: 10.0 },
            complete(0.30, 3, Grouping::RoundLiner, None),
            1,
        ),
        (
            "pattern_hair",
            Ground::Hair { length_mm: 9.0, bend_deg: 45.0 },
            complete(0.25, 1, Grouping::RoundLiner, None),
            2,
        ),
        (
            "pattern_area",
            Ground::Area { width_mm: 6.0, height_mm: 4.0 },
            complete(0.30, 7, Grouping::WovenMagnum, None),
            4,
        ),
    ] {
        let told =
            Setting { passes: Some(passes), hand_speed_mm_s: Some(10.0), ..Setting::default() };
        let request = PatternRequest {
            configuration,
            circumstances: model.circumstances(&told),
            ground,
            jitter: Jitter::default(),
            seed: 7,
        };
        let pattern = model.pattern(&request)?;
        let statistics = pattern.statistics(7);
        save(
            name,
            &draw_pattern(
                &model,
                &configuration,
                &pattern,
                &statistics,
                (&request.circumstances, 800),
                Language::En,
            ),
        )?;
        println!("{name}: {statistics:#?}");
    }
    let rows = [
        complete(0.25, 1, Grouping::RoundLiner, None),
        complete(0.30, 7, Grouping::RoundShader, None),
        complete(0.30, 9, Grouping::WovenMagnum, None),
    ];
    let circumstances = model.circumstances(&Setting::default());
    for (name, effect) in [
        ("passes_shading", Effect::SoftShading),
        ("passes_line", Effect::FineLine),
        ("passes_hair", Effect::HairStrokes),
    ] {
        let ground = sample(effect).ok_or("an effect that is worked in passes")?;
        for (width_px, passes) in [(240, 3), (960, 4), (3000, 4)] {
            let grid = Grid {
                configurations: &rows,
                circumstances: &circumstances,
                passes,
                ground,
                effect: effect.as_str(),
            };
            let picture = draw_passes(&model, &grid, width_px, Language::De)?;
            save(&format!("{name}_{width_px}"), &picture)?;
        }
    }
    Ok(())
}
