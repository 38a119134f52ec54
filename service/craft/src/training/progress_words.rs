//! Where practice stands, in words.

use etui_schema::vocabulary::{Language, PracticeState, Rung};

use super::Training;
use super::progress::{Kept, Progress};
use super::standing::Held;

impl Training {
    /// What is said beside all progress.
    #[must_use]
    pub fn progress_cautions(&self, language: Language) -> Vec<String> {
        ["caution_unseen", "caution_numbers"]
            .map(|key| self.texts.get(language, key).to_owned())
            .to_vec()
    }

    /// What an artist and her trainer read of it: what holds, then how far results are,
    /// then what is missing. `watched` is the watch since a sign-off, if there is one.
    #[must_use]
    pub fn progress_text(
        &self,
        progress: &Progress,
        held: Held,
        (doubted, watched): (bool, Option<Kept>),
        language: Language,
    ) -> String {
        let said = |key: &str, values: &[(&str, &str)]| self.fill(language, key, values);
        let mut all = Vec::new();
        all.extend(held.rung.map(|rung| match rung {
            Rung::Alone => said("progress_signed", &[]),
            Rung::UnderEye => said("progress_signed_under_eye", &[]),
            Rung::PracticeSkin => said("progress_signed_practice_skin", &[]),
        }));
        let nearly = self.rules.progress.doubt_limit.value / 2.0;
        match watched {
            _ if doubted => all.push(said("progress_doubt", &[])),
            Some(kept) if nearly <= kept.value => all.push(said("progress_turning", &[])),
            Some(kept) if 0 < kept.results && held.state == PracticeState::Signed => {
                all.push(said("progress_kept", &[]));
            }
            Some(_) | None => {}
        }
        if held.rung != Some(Rung::Alone) {
            match (progress.state, progress.is_over) {
                (PracticeState::ReadyToSign, _) => all.push(said("progress_ready", &[])),
                (_, true) => all.push(said("progress_over", &[])),
                (_, false) => {
                    let (n, days) =
                        (progress.straight.to_string(), progress.days_wanted.to_string());
                    all.push(said("progress_practising", &[("n", &n)]));
                    if progress.days_wanted != 0 {
                        all.push(said("progress_days", &[("n", &days)]));
                    }
                }
            }
        }
        if let Some(sheet) = progress.waits_for {
            all.push(said("progress_waits", &[("sheet", &sheet.to_string())]));
        }
        if !progress.not_handed_in.is_empty() {
            let sheets: Vec<String> =
                progress.not_handed_in.iter().map(ToString::to_string).collect();
            all.push(said("progress_missing", &[("sheets", &sheets.join(", "))]));
        }
        all.join(" ")
    }
}
