//! At the front desk: a booking, a delivery, a recall, a first evening.

use serde_json::{Value, json};

use super::{Afternoon, Scene, Who};
use crate::wire::Request;

const CHECKS: &str = "/v1/appointment-checks";

pub(super) fn afternoons() -> Vec<Afternoon> {
    vec![booking(), drawer(), recall(), integrator()]
}

fn booking() -> Afternoon {
    let check = |played: &super::Played, told: Value| {
        let body = json!({
            "booking_ref": "ilse-lips",
            "client_ref": "ilse",
            "treatment": "lips",
            "effect": "soft_shading",
            "starts_at": "2027-04-06T13:00:00Z",
            "zone": "Europe/Berlin",
            "born_on": "1992-11-08",
            "answers": played.answered("questions", told),
            "candidates": "usual",
        });
        Request::post(CHECKS, &body)
    };
    let again = check;
    Afternoon {
        name: "booking",
        title: ["A booking in the evening", "Eine Buchung am Abend"],
        scenes: vec![
            Scene::new("client", |played| {
                Request::put("/v1/clients/ilse", &json!({ "language": played.language() }))
            })
            .at("2027-03-16T17:40:00Z"),
            Scene::new("questions", |_| {
                Request::get("/v1/screening-questions?treatment=lips&on=2027-04-06")
            }),
            Scene::new("check", move |played| {
                let told = json!({
                    "cold_sore_history": true,
                    "recent_on_area": ["acids"],
                });
                check(played, told)
            })
            .tells(
                [
                    "Ilse books her lips for three weeks ahead and fills in the form on her phone: cold sores now \
                     and then, and a face acid that she still uses.",
                    "Ilse bucht in drei Wochen eine Lippenbehandlung und füllt das Formular am Telefon aus: ab und zu \
                     Lippenherpes, und ein Säurepeeling, das sie noch benutzt.",
                ],
                &[(Who::Studio, "/summary")],
            ),
            Scene::new("summary", |played| {
                Request::get(format!("{CHECKS}/{}/summary", played.text("check", "/id")))
            })
            .tells(
                ["What she reads, and the studio's list.", "Was sie liest, und die Liste des Studios."],
                &[
                    (Who::Client, "/says"),
                    (Who::Client, "/client/*"),
                    (Who::Studio, "/studio/*/text"),
                    (Who::Artist, "/mind/*"),
                    (Who::Artist, "/needles/*/canonical+line"),
                ],
            ),
            Scene::new("again", move |played| {
                let told = json!({
                    "cold_sore_history": true,
                    "recent_on_area": ["none_of_these"],
                    "medicines": ["antibiotics"],
                });
                again(played, told)
            })
            .at("2027-03-23T09:00:00Z")
            .tells(
                [
                    "A week later: the acid is left off, and she takes an antibiotic.",
                    "Eine Woche später: Das Peeling ist abgesetzt, und sie nimmt ein Antibiotikum.",
                ],
                &[(Who::Studio, "/changes/differences/*/because"), (Who::Client, "/findings/*/condition")],
            ),
        ],
    }
}

fn drawer() -> Afternoon {
    let delivery = json!([
        { "text": "0.25 5RS LT LOT 77K EXP 2029-02-28 STERILE EO", "packs": 10, "maker": "north" },
        { "text": "1003RL LOT D-19 EXP 2028-09-30 STERILE R", "packs": 10, "maker": "harbour" },
        { "text": "0.30 9M1 LOT D-20 EXP 2028-10-31 NON STERILE", "packs": 4, "maker": "harbour" },
    ]);
    let labels = json!([
        { "text": "0.25 5RS LT LOT 77K EXP 2029-02-28 STERILE EO" },
        { "text": "1203RLST LOT 23A114 EXP 2028-08 STERILE EO", "symbol": "]d20109521234543213172708311023A114" },
        { "text": "3RL12 LOT Q4 EXP 2029-01-31 STERILE EO" },
        { "text": "0.30 9M1 LOT D-20 EXP 2028-10-31 NON STERILE" },
    ]);
    Afternoon {
        name: "drawer",
        title: ["A delivery in the morning", "Eine Lieferung am Morgen"],
        scenes: vec![
            Scene::new("labels", move |_| {
                Request::post("/v1/label-readings", &json!({ "labels": labels }))
            })
            .at("2027-03-16T08:10:00Z")
            .tells(
                [
                    "Four packs lie on the counter: one is plain, on one the print and the symbol differ, one has a \
                     number that may be a size or a quantity, one is not sterile.",
                    "Vier Packungen liegen auf dem Tresen: Eine ist eindeutig, bei einer sagen Aufdruck und Code \
                     Verschiedenes, bei einer kann eine Zahl Größe oder Menge sein, eine ist nicht steril.",
                ],
                &[
                    (Who::Studio, "/readings/*/candidates/*/canonical"),
                    (Who::Studio, "/readings/*/question/text"),
                    (Who::Studio, "/readings/*/fitness/questions/*/text"),
                ],
            ),
            Scene::new("delivery", move |_| {
                Request::post("/v1/deliveries", &json!({ "lots": delivery }))
            })
            .tells(
                [
                    "Three suppliers' packs go into the drawer; what is not known holds a pack back.",
                    "Die Packungen kommen in die Schublade; was nicht bekannt ist, hält eine Packung zurück.",
                ],
                &[(Who::Program, "/outcomes/*/lot/canonical+state")],
            ),
            Scene::new("choice", |_| {
                let body = json!({
                    "treatment": "brows", "effect": "dense_fill", "candidates": "drawer", "limit": 3,
                });
                Request::post("/v1/needle-selections", &body)
            })
            .tells(
                [
                    "At once somebody asks for a full brow out of this drawer.",
                    "Gleich darauf fragt jemand nach einer vollen Braue aus dieser Schublade.",
                ],
                &[
                    (Who::Artist, "/ranked/*/canonical"),
                    (Who::Artist, "/set_aside/*/because"),
                    (Who::Studio, "/passed_over/*/message"),
                ],
            ),
        ],
    }
}

fn recall() -> Afternoon {
    Afternoon {
        name: "recall",
        title: ["A recall before noon", "Ein Rückruf am Vormittag"],
        scenes: vec![
            Scene::new("lot", |_| {
                let text = "0.30 7RS LOT 5517 EXP 2029-03-31 STERILE EO";
                Request::post("/v1/lots", &json!({ "text": text, "packs": 12, "maker": "north" }))
            })
            .at("2027-03-16T08:00:00Z"),
            Scene::new("client", |_| Request::put("/v1/clients/marit", &json!({ "born_on": "1979-06-30" }))),
            Scene::new("treatment", |played| {
                let body = json!({
                    "client_ref": "marit", "artist_ref": "juna", "treatment": "brows", "effect": "soft_shading",
                    "performed_at": "2027-03-16T07:00:00Z", "zone": "Europe/Berlin",
                    "packs": [{ "lot_id": played.text("lot", "/id"), "intact": true, "site": "brow" }],
                });
                Request::post("/v1/treatments", &body)
            }),
            Scene::new("recall", |_| {
                let body = json!({
                    "lot": "5517", "maker": "north", "reason": "seal not tight; notice of 2027-05-03",
                });
                Request::post("/v1/recalls", &body)
            })
            .at("2027-05-03T09:30:00Z")
            .tells(
                [
                    "A supplier's letter names a lot. One call: out of the drawer at once, and who was worked on with \
                     it.",
                    "Ein Lieferant nennt eine Charge. Ein Aufruf: sofort aus der Schublade, und wer damit behandelt \
                     wurde.",
                ],
                &[(Who::Program, "/exposures/clients/*")],
            ),
            Scene::new("after", |played| {
                Request::get(format!("/v1/treatments/{}", played.text("treatment", "/id")))
            }).tells(
                ["What stands at the treatment from now on.", "Was ab jetzt an der Behandlung steht."],
                &[(Who::Studio, "/flags/*/message")],
            ),
            Scene::new("drawer", |_| {
                let body = json!({
                    "treatment": "brows", "effect": "soft_shading", "candidates": "drawer", "limit": 3,
                });
                Request::post("/v1/needle-selections", &body)
            })
            .tells(
                ["The drawer says why it offers nothing.", "Die Schublade sagt, warum sie nichts anbietet."],
                &[(Who::Artist, "/drawer"), (Who::Studio, "/passed_over/*/message")],
            ),
        ],
    }
}

fn integrator() -> Afternoon {
    Afternoon {
        name: "integrator",
        title: ["A first evening with the interface", "Ein erster Abend mit der Schnittstelle"],
        scenes: vec![
            Scene::new("wrong", |_| {
                let body = json!({
                    "booking_ref": "two words", "treatment": "lip", "effect": "soft_shading",
                    "starts_at": "tomorrow",
                });
                Request::post(CHECKS, &body)
            })
            .tells(
                [
                    "The first request is wrong in three places, and all three are named at once.",
                    "Die erste Anfrage ist an drei Stellen falsch, und alle drei werden auf einmal genannt \
                     (Fehler für Programme sind englisch).",
                ],
                &[(Who::Program, "/errors/*/pointer+message")],
            ),
            Scene::new("right", |_| {
                let body = json!({
                    "booking_ref": "first-try", "treatment": "lips", "effect": "soft_shading",
                    "starts_at": "2027-04-06T13:00:00Z", "zone": "Europe/Berlin", "born_on": "1992-11-08",
                    "candidates": "usual",
                });
                Request::post(CHECKS, &body)
            })
            .tells(
                ["The second works, without one answer.", "Die zweite gelingt, noch ohne eine Antwort."],
                &[(Who::Studio, "/summary")],
            ),
            Scene::new("sheet", |played| {
                Request::get(format!("{CHECKS}/{}/summary", played.text("right", "/id")))
            })
            .tells(["Its short view.", "Die Kurzfassung."], &[(Who::Client, "/client/*")]),
        ],
    }
}
