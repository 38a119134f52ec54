//! Hand, machine, skin, site, depth, speed and passes: what a setting tells,
//! and what is assumed where it does not.
//!
//! `rules/configuration/circumstances.toml` holds the assumptions, each with
//! its source: depth, stroke, rate and hand speed by site; the depth also by
//! hand. One pass is assumed everywhere, so that an answer says what one pass
//! does; [`super::Measures::passes_to_cover`] says how many it takes.

use etui_schema::kinds::loaded;
use etui_schema::vocabulary::{Give, Hand, Machine, Setting, Site, Skin};

use crate::evidence::Register;
use crate::rules::{self, Origin, RuleFault, RuleFile, Sourced, rule_file};

const FILE: RuleFile = rule_file!("configuration/circumstances.toml");

/// Everything that a measure depends on besides the configuration.
#[derive(Debug, Clone, PartialEq)]
pub struct Circumstances {
    /// How firmly the artist works.
    pub hand: Hand,
    /// Full travel of the needle, in millimetres.
    pub stroke_mm: f64,
    /// Strokes per second.
    pub rate_hz: f64,
    /// How far the drive yields.
    pub give: Give,
    /// Where on the body.
    pub site: Site,
    /// Depth of the deepest tip in the skin, in millimetres; not the hang.
    pub depth_mm: f64,
    /// Speed of the hand along the skin, in mm/s.
    pub hand_speed_mm_s: f64,
    /// Passes over the same place.
    pub passes: u8,
    /// What is known of the skin.
    pub skin: Skin,
    /// JSON pointers, below the setting, of what was assumed, in the order of
    /// the fields: `/hand`, `/machine/stroke_mm` …
    pub assumed: Vec<&'static str>,
}

/// What is assumed on one site.
#[loaded(PartialEq)]
pub struct SiteDefaults {
    /// Which site.
    pub site: Site,
    /// Depth under a medium hand.
    pub depth_mm: Sourced<f64>,
    /// Stroke.
    pub stroke_mm: Sourced<f64>,
    /// Rate.
    pub rate_hz: Sourced<f64>,
    /// Hand speed.
    pub hand_speed_mm_s: Sourced<f64>,
}

#[loaded(PartialEq)]
struct DepthByHand {
    light: f64,
    medium: f64,
    heavy: f64,
    source: Origin,
}

#[loaded(PartialEq)]
struct RateLimit {
    range: [f64; 2],
    source: Origin,
}

#[loaded(PartialEq)]
struct StrokeLimit {
    below: f64,
    source: Origin,
}

#[loaded(PartialEq)]
struct Limits {
    rate_hz: RateLimit,
    lid_stroke_mm: StrokeLimit,
}

#[loaded(PartialEq)]
struct Ordinary {
    source: Origin,
}

/// The assumptions and limits of the rule file.
#[loaded(PartialEq)]
pub struct Defaults {
    hand: Sourced<Hand>,
    site: Sourced<Site>,
    give: Sourced<Give>,
    passes: Sourced<u8>,
    ordinary_skin: Ordinary,
    depth_by_hand: DepthByHand,
    limits: Limits,
    site_defaults: Vec<SiteDefaults>,
}

impl Defaults {
    /// The assumptions compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if a site is missing or a source unknown.
    pub fn builtin(register: &Register) -> Result<Self, RuleFault> {
        let read: Self = rules::load(register, FILE)?;
        let all = read.site_defaults.iter().map(|s| s.site).eq(Site::ALL.iter().copied());
        let why = "every site must stand once, in the order of the words";
        RuleFault::unless(all, FILE.name, "/site_defaults", why)?;
        Ok(read)
    }

    /// What is assumed on one site.
    #[must_use]
    pub fn of(&self, site: Site) -> &SiteDefaults {
        &self.site_defaults[site as usize]
    }

    /// Lowest and highest rate seen in publications, in Hz.
    #[must_use]
    pub const fn rate_limits_hz(&self) -> [f64; 2] {
        self.limits.rate_hz.range
    }

    /// Stroke from which a lid is warned of, in millimetres.
    #[must_use]
    pub const fn lid_stroke_limit_mm(&self) -> f64 {
        self.limits.lid_stroke_mm.below
    }

    /// The source behind an assumed pointer on a site, and behind the limits.
    #[must_use]
    pub fn source_of(&self, pointer: &str, site: Site) -> Option<&Origin> {
        let at = self.of(site);
        match pointer {
            "/hand" => Some(&self.hand.source),
            "/site" => Some(&self.site.source),
            "/machine/give" => Some(&self.give.source),
            "/machine/stroke_mm" => Some(&at.stroke_mm.source),
            "/machine/rate_hz" => Some(&at.rate_hz.source),
            "/depth_mm" => Some(&at.depth_mm.source),
            "/hand_speed_mm_s" => Some(&at.hand_speed_mm_s.source),
            "/passes" => Some(&self.passes.source),
            _ if pointer.starts_with("/skin/") => Some(&self.ordinary_skin.source),
            _ => None,
        }
    }

    /// Fills a setting, listing what was assumed.
    #[must_use]
    pub fn resolve(&self, setting: &Setting) -> Circumstances {
        let Setting { hand, machine, skin, site, depth_mm, hand_speed_mm_s, passes } = setting;
        let Machine { stroke_mm, rate_hz, give } =
            machine.unwrap_or(Machine { stroke_mm: None, rate_hz: None, give: None });
        let mut assumed = Vec::new();
        let hand = or(*hand, self.hand.value, "/hand", &mut assumed);
        let site_known = site.is_some();
        let site = site.unwrap_or(self.site.value);
        let at = self.of(site);
        let stroke_mm = or(stroke_mm, at.stroke_mm.value, "/machine/stroke_mm", &mut assumed);
        let rate_hz = or(rate_hz, at.rate_hz.value, "/machine/rate_hz", &mut assumed);
        let give = or(give, self.give.value, "/machine/give", &mut assumed);
        if !site_known {
            assumed.push("/site");
        }
        let usual_depth_mm = at.depth_mm.value * self.depth_factor(hand);
        let depth_mm = or(*depth_mm, usual_depth_mm, "/depth_mm", &mut assumed);
        let usual_speed = at.hand_speed_mm_s.value;
        let hand_speed_mm_s = or(*hand_speed_mm_s, usual_speed, "/hand_speed_mm_s", &mut assumed);
        let passes = or(*passes, self.passes.value, "/passes", &mut assumed);
        let skin = skin.clone().unwrap_or_default();
        assumed.extend(assumed_of_skin(&skin));
        Circumstances {
            hand,
            stroke_mm,
            rate_hz,
            give,
            site,
            depth_mm,
            hand_speed_mm_s,
            passes,
            skin,
            assumed,
        }
    }

    const fn depth_factor(&self, hand: Hand) -> f64 {
        match hand {
            Hand::Light => self.depth_by_hand.light,
            Hand::Medium => self.depth_by_hand.medium,
            Hand::Heavy => self.depth_by_hand.heavy,
        }
    }
}

/// What the model takes for ordinary in a skin that does not tell.
fn assumed_of_skin(skin: &Skin) -> impl Iterator<Item = &'static str> {
    [
        (skin.age_years.is_none(), "/skin/age_years"),
        (skin.oiliness.is_none(), "/skin/oiliness"),
        (skin.thickness.is_none(), "/skin/thickness"),
        (skin.sensitivity.is_none(), "/skin/sensitivity"),
    ]
    .into_iter()
    .filter_map(|(missing, pointer)| missing.then_some(pointer))
}

/// The told value, or the usual one with a note of it.
fn or<T>(told: Option<T>, usual: T, pointer: &'static str, assumed: &mut Vec<&'static str>) -> T {
    told.unwrap_or_else(|| {
        assumed.push(pointer);
        usual
    })
}
