//! The outcome of a check in one or two sentences, to be read aloud.

use etui_schema::vocabulary::{CivilDate, Language, Verdict};

/// The outcome in words.
pub(super) fn summary(
    verdict: Verdict,
    hold_until: Option<CivilDate>,
    open: usize,
    language: Language,
) -> String {
    let day = hold_until.map(|day| day.to_string());
    match (language, verdict) {
        (Language::En, Verdict::Proceed) => "Nothing stands against this appointment.".to_owned(),
        (Language::En, Verdict::ProceedWithConditions) => {
            "The appointment can go ahead if what is on the list is done in time.".to_owned()
        }
        (Language::En, Verdict::Hold) => match day {
            Some(day) => format!("Not yet: please move the appointment to {day} or later."),
            None => "Not yet: something has to settle first; the list says what.".to_owned(),
        },
        (Language::En, Verdict::Refer) => {
            "Somebody licensed should look first; the list says who.".to_owned()
        }
        (Language::En, Verdict::Decline) => "This studio will not do this treatment.".to_owned(),
        (Language::En, Verdict::Incomplete) => {
            format!("Answers are missing ({open}); nothing is assumed until they are there.")
        }
        (Language::De, Verdict::Proceed) => "Nichts spricht gegen diesen Termin.".to_owned(),
        (Language::De, Verdict::ProceedWithConditions) => {
            "Der Termin kann stattfinden, wenn rechtzeitig erledigt ist, was auf der Liste steht."
                .to_owned()
        }
        (Language::De, Verdict::Hold) => match day {
            Some(day) => format!("Noch nicht: bitte den Termin auf {day} oder später verlegen."),
            None => "Noch nicht: etwas muss sich erst klären; die Liste sagt, was.".to_owned(),
        },
        (Language::De, Verdict::Refer) => {
            "Erst sollte jemand mit Zulassung darauf sehen; die Liste sagt, wer.".to_owned()
        }
        (Language::De, Verdict::Decline) => {
            "Dieses Studio führt diese Behandlung nicht durch.".to_owned()
        }
        (Language::De, Verdict::Incomplete) => {
            format!("Es fehlen Antworten ({open}); bis dahin wird nichts angenommen.")
        }
    }
}
