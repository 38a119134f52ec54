//! What a stateless call costs beside a bare echo, and how long the service
//! takes to start and how much memory it holds when idle.
//!
//! ```text
//! cargo bench -p etui-tests --bench load
//! ```
//!
//! Processor time a request is what the kernel counted for the serving process
//! (`/proc/PID/stat`, user and system time) divided by the number of requests.
//! The load comes from this process over connections that are kept; the service
//! and the echo are processes of their own with the same number of workers and
//! are measured in turns, so that a busy machine weighs on both alike. The echo
//! is actix-web with one route that answers with the body it got; the second
//! echo is sent the service's answer instead, which shows what moving a body
//! of that size costs by itself.

mod echo;
mod figures;
mod load;

use std::process::ExitCode;

use etui_tests::child::Child;
use etui_tests::wire::Request;
use figures::{median, memory_mb, processor_time};
use load::Keeper;

const PROGRAM: &str = env!("CARGO_BIN_EXE_etui_under_test");
const ROUNDS: usize = 7;
const REQUESTS: u32 = 6_000;

fn main() -> ExitCode {
    if std::env::args().any(|argument| argument == echo::FLAG) {
        return echo::serve();
    }
    println!("{}", start_and_memory());
    println!(
        "{:<28} {:>9} {:>9} {:>7} {:>9} {:>7}  bytes in, out",
        "", "service", "echo", "ratio", "of answer", "ratio"
    );
    for case in cases() {
        println!("{}", compare(&case));
    }
    ExitCode::SUCCESS
}

/// Start to the ready line and to the first answer, on a new folder and on one
/// that was closed in order; resident memory after ten seconds of rest.
fn start_and_memory() -> String {
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
    format!(
        "start to first 200: {:.0} ms on a new folder, {:.0} ms on a kept one; \
         idle memory {resident:.1} MB resident, {anonymous:.1} MB of it not shared with the file cache",
        median(&mut new),
        median(&mut again),
    )
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

/// A name and the request that stands for it.
struct Case {
    name: &'static str,
    request: Request,
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
            name: "label readings, 1,000",
            request: Request::post("/v1/label-readings", &serde_json::json!({ "labels": labels })),
        },
        Case {
            name: "comparison of 8",
            request: Request::post(
                "/v1/configuration-comparisons",
                &serde_json::json!({ "configurations": eight }),
            ),
        },
    ];
    let examples =
        std::fs::read(etui_tests::openapi_folder().join("examples.json")).expect("the examples");
    let examples: serde_json::Value =
        serde_json::from_slice(&examples).expect("the examples as JSON");
    for (name, path, id) in [
        ("label reading", "/v1/label-readings", "read_labels"),
        ("comparison", "/v1/configuration-comparisons", "compare_configurations"),
        ("needle selection", "/v1/needle-selections", "select_needles"),
        ("skin assessment", "/v1/skin-assessments", "create_skin_assessment"),
        ("aftercare plan", "/v1/aftercare-plans", "make_aftercare_plan"),
        ("symptom report", "/v1/symptom-reports", "judge_symptom_report"),
    ] {
        assert!(examples[id]["request"].is_object(), "an example of {id}");
        all.push(Case { name, request: Request::post(path, &examples[id]["request"]) });
    }
    all
}

/// Measures the three servers in turns.
fn compare(case: &Case) -> String {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let service = Child::spawn(PROGRAM, folder.path());
    let echo = echo::Echo::spawn();
    let heads = load::head(&case.request, service.token());
    let body = case.request.body.clone().unwrap_or_default();
    let answer = Keeper::connect(service.address()).call(&heads, &body);
    let many = if 50_000 < answer.len() { REQUESTS / 30 } else { REQUESTS };
    let mut costs = [Vec::new(), Vec::new(), Vec::new()];
    for _ in 0..ROUNDS {
        costs[0].push(cost(service.id(), service.address(), &heads, &body, many));
        costs[1].push(cost(echo.id(), echo.address(), &heads, &body, many));
        costs[2].push(cost(echo.id(), echo.address(), &heads, &answer, many));
    }
    let [ours, bare, moved] = costs.each_mut().map(|figures| median(figures));
    format!(
        "{:<28} {ours:>6.1} µs {bare:>6.1} µs {:>7.2} {moved:>6.1} µs {:>7.2}  {}, {}",
        case.name,
        ours / bare,
        ours / moved,
        body.len(),
        answer.len()
    )
}

/// Processor time of the serving process for one request, in microseconds.
fn cost(id: u32, address: std::net::SocketAddr, head: &str, body: &[u8], many: u32) -> f64 {
    let mut keeper = Keeper::connect(address);
    for _ in 0..many / 10 {
        keeper.call(head, body);
    }
    let before = processor_time(id);
    for _ in 0..many {
        keeper.call(head, body);
    }
    (processor_time(id) - before) * 1e6 / f64::from(many)
}
