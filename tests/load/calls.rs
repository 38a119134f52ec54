//! What a stateless call costs beside a bare echo, and how long the service
//! takes to start and how much memory it holds when idle.
//!
//! The echo is actix-web with one route that answers with the body it got; it is
//! sent the service's answer, which shows what moving a body of that size costs
//! by itself. Over one kept connection nobody waits for anybody; over sixteen
//! neither of the two has to be woken up for each request.

use etui_tests::child::Child;
use etui_tests::wire::Request;

use crate::PROGRAM;
use crate::echo::Echo;
use crate::figures::{Spent, median, memory_mb};
use crate::ledger::{Better, Ledger};
use crate::load::{self, Keeper};

const ROUNDS: usize = 5;
const REQUESTS: u32 = 6_000;
/// Connections at saturation.
const MANY: u32 = 16;
const SHORT: [&str; 2] = ["≤ 1.5", "≤ 2"];
const LONG: [&str; 2] = ["≤ 2", "≤ 3"];

/// Start to the ready line and to the first answer, on a new folder and on one
/// that was closed in order; resident memory after ten seconds of rest.
pub(crate) fn start_and_memory(ledger: &mut Ledger) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut new = Vec::new();
    let mut again = Vec::new();
    for _ in 0..5 {
        let fresh = tempfile::tempdir().expect("a temporary folder");
        new.push(first_answer_ms(fresh.path()));
        again.push(first_answer_ms(folder.path()));
    }
    let child = Child::spawn(PROGRAM, folder.path());
    std::thread::sleep(std::time::Duration::from_secs(10));
    let (resident, anonymous) = memory_mb(child.id());
    ledger.note(
        "start to the first answer, new folder",
        median(&mut new),
        "ms",
        Better::Less,
        "< 40",
    );
    ledger.note(
        "start to the first answer, kept folder",
        median(&mut again),
        "ms",
        Better::Less,
        "< 40",
    );
    ledger.note("resident at rest", resident, "MB", Better::Less, "< 24");
    ledger.note(
        "resident at rest, not shared with the file cache",
        anonymous,
        "MB",
        Better::Less,
        "",
    );
    #[expect(clippy::cast_precision_loss, reason = "a size in megabytes")]
    let size = std::fs::metadata(PROGRAM).expect("the program").len() as f64 / 1e6;
    ledger.note("the program, as cargo leaves it", size, "MB", Better::Less, "< 30");
}

fn first_answer_ms(folder: &std::path::Path) -> f64 {
    let begun = std::time::Instant::now();
    let mut child = Child::spawn(PROGRAM, folder);
    let answer = child.call(&Request::get("/health/live"));
    let took = begun.elapsed().as_secs_f64() * 1e3;
    assert_eq!(answer.status, 200, "the service is alive");
    child.terminate();
    let _ = child.wait(std::time::Duration::from_secs(10));
    took
}

/// A name, the request that stands for it, and what is wanted of it alone and at saturation.
struct Case {
    name: &'static str,
    request: Request,
    aims: [&'static str; 2],
}

/// Measures every case.
pub(crate) fn measure(ledger: &mut Ledger) {
    for case in cases() {
        compare(&case, ledger);
    }
}

/// The stateless calls of the tour, and the two of which more is asked.
fn cases() -> Vec<Case> {
    let eight = [
        "0.18 1RL",
        "0.20 1RL",
        "0.25 3RL",
        "0.30 3RL",
        "0.30 5RS",
        "0.25 7F",
        "0.30 9M1",
        "0.35 11RM",
    ];
    let eight: Vec<_> = eight.iter().map(|label| serde_json::json!({ "label": label })).collect();
    let labels: Vec<_> = (0..1000)
        .map(|at| serde_json::json!({ "text": format!("{:02}{:02}RL LOT A{at} EXP 2028-03 STERILE EO", 20 + at % 3 * 5, 1 + at % 5 * 2) }))
        .collect();
    let mut all = vec![
        Case {
            name: "1,000 labels",
            request: Request::post("/v1/label-readings", &serde_json::json!({ "labels": labels })),
            aims: ["≤ 5", ""],
        },
        Case {
            name: "comparison of 8",
            request: Request::post(
                "/v1/configuration-comparisons",
                &serde_json::json!({ "configurations": eight }),
            ),
            aims: ["", ""],
        },
    ];
    let examples =
        std::fs::read(etui_tests::openapi_folder().join("examples.json")).expect("the examples");
    let examples: serde_json::Value =
        serde_json::from_slice(&examples).expect("the examples as JSON");
    for (name, path, id, aims) in [
        ("one label", "/v1/label-readings", "read_labels", SHORT),
        ("comparison", "/v1/configuration-comparisons", "compare_configurations", LONG),
        ("needle selection", "/v1/needle-selections", "select_needles", LONG),
        ("skin assessment", "/v1/skin-assessments", "create_skin_assessment", SHORT),
        ("aftercare plan", "/v1/aftercare-plans", "make_aftercare_plan", LONG),
        ("symptom report", "/v1/symptom-reports", "judge_symptom_report", SHORT),
    ] {
        assert!(examples[id]["request"].is_object(), "an example of {id}");
        all.push(Case { name, request: Request::post(path, &examples[id]["request"]), aims });
    }
    all
}

/// Measures the service and the echo in turns, over one connection and over many.
fn compare(case: &Case, ledger: &mut Ledger) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let service = Child::spawn(PROGRAM, folder.path());
    let echo = Echo::spawn();
    let head = load::head(&case.request, service.token());
    let body = case.request.body.clone().unwrap_or_default();
    let answer = Keeper::connect(service.address()).call(&head, &body);
    let many = if 50_000 < answer.len() { REQUESTS / 30 } else { REQUESTS };
    for (connections, how, aim) in
        [(1, "alone", case.aims[0]), (MANY, "of 16 at once", case.aims[1])]
    {
        let (mut ours, mut moved) = (Vec::new(), Vec::new());
        for _ in 0..ROUNDS {
            ours.push(cost((service.id(), service.address()), (&head, &body), many, connections));
            moved.push(cost((echo.id(), echo.address()), (&head, &answer), many, connections));
        }
        let (ours, moved) = (median(&mut ours), median(&mut moved));
        let name = format!("{}, {how}", case.name);
        ledger.note(&name, ours, "µs", Better::Less, "");
        ledger.note(
            &format!("{name}, to the echo of the answer"),
            ours / moved,
            "times",
            Better::Less,
            aim,
        );
    }
}

/// Processor time of the serving process for one request, in microseconds.
fn cost(
    (id, address): (u32, std::net::SocketAddr),
    sent: (&str, &[u8]),
    many: u32,
    connections: u32,
) -> f64 {
    let mut keepers: Vec<Keeper> = (0..connections).map(|_| Keeper::connect(address)).collect();
    let mut all = |calls: u32| {
        std::thread::scope(|scope| {
            for keeper in &mut keepers {
                scope.spawn(move || (0..calls).for_each(|_| drop(keeper.call(sent.0, sent.1))));
            }
        });
    };
    let each = (many / connections).max(1);
    all(each / 10 + 1);
    let before = Spent::by(id);
    all(each);
    Spent::by(id).since(&before) * 1e6 / f64::from(each * connections)
}
