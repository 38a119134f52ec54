//! The record of cost: what was measured, beside what was measured before.
//!
//! FIGURES.md has a table between two marks. A run reads it, puts what it
//! measured in place of the line of the same name, with the date and the commit,
//! keeps the lines that it did not measure, and names under the table whatever
//! grew by more than a tenth. There is no second file: what people read is what
//! the next run compares with.

use std::fmt::Write as _;
use std::path::PathBuf;
use std::process::{Command, ExitCode};

use etui_service::http::clock::System;
use etui_service::studio::moment::Sources as _;

const BEGINS: &str = "<!-- measured: `cargo bench -p etui-tests --bench cost` rewrites this -->";
const ENDS: &str = "<!-- end of what was measured -->";
/// What is named: dearer by more than this share.
const NAMED: f64 = 0.1;

/// Which way is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Better {
    /// Times, sizes, ratios to something bare.
    Less,
    /// Rates, shares of something bare.
    More,
}

/// One line of the table.
#[derive(Debug, Clone, PartialEq)]
struct Line {
    what: String,
    now: f64,
    unit: String,
    before: Option<f64>,
    aim: String,
    of: String,
    is_dearer: bool,
}

/// What this run measures, and what the last left.
pub(crate) struct Ledger {
    lines: Vec<Line>,
    of: String,
    machine: String,
}

impl Ledger {
    /// Reads what the last run left.
    pub(crate) fn begin() -> Self {
        let lines =
            std::fs::read_to_string(place()).map_or_else(|_| Vec::new(), |text| read(&text));
        let today = jiff::tz::TimeZone::UTC.to_datetime(System.now()).date();
        let of = format!("{today}, {}", commit());
        Self { lines, of, machine: machine() }
    }

    /// Notes a figure under its name. `aim` is what is wanted, such as `≤ 1.5`, or nothing.
    pub(crate) fn note(&mut self, what: &str, now: f64, unit: &str, better: Better, aim: &str) {
        let aim_said = if aim.is_empty() { String::new() } else { format!("   aim {aim}") };
        println!("{what:<60} {:>14} {unit}{aim_said}", rounded(now));
        let at = self.lines.iter().position(|line| line.what == what);
        let before = at.and_then(|at| self.lines.get(at)).map(|line| line.now);
        let is_dearer = before.is_some_and(|before| match better {
            Better::Less => before * (1.0 + NAMED) < now,
            Better::More => now < before * (1.0 - NAMED),
        });
        let line = Line {
            what: what.to_owned(),
            now,
            unit: unit.to_owned(),
            before,
            aim: aim.to_owned(),
            of: self.of.clone(),
            is_dearer,
        };
        match at.and_then(|at| self.lines.get_mut(at)) {
            Some(old) => *old = line,
            None => self.lines.push(line),
        }
    }

    /// Names what became dearer, and writes the table unless it is only to be looked at.
    pub(crate) fn close(self, writes: bool) -> ExitCode {
        let text = self.table();
        println!("\n{}", text.rsplit("\n\n").next().unwrap_or_default());
        if !writes {
            return ExitCode::SUCCESS;
        }
        let whole = std::fs::read_to_string(place()).unwrap_or_default();
        let Some((head, rest)) = whole.split_once(BEGINS) else {
            eprintln!("FIGURES.md has no place for it: {BEGINS}");
            return ExitCode::FAILURE;
        };
        let tail = rest.split_once(ENDS).map_or("", |(_, tail)| tail);
        match std::fs::write(place(), format!("{head}{BEGINS}\n\n{text}\n{ENDS}{tail}")) {
            Ok(()) => ExitCode::SUCCESS,
            Err(error) => {
                eprintln!("FIGURES.md cannot be written: {error}");
                ExitCode::FAILURE
            }
        }
    }

    fn table(&self) -> String {
        let mut text = format!("The last run: {}. {}.\n\n", self.of, self.machine);
        text += "| what | measured | before | aim | of |\n|---|---|---|---|---|\n";
        for line in &self.lines {
            let before = line.before.map_or_else(String::new, rounded);
            let (what, now) = (&line.what, rounded(line.now));
            let _ = writeln!(
                text,
                "| {what} | {now} {} | {before} | {} | {} |",
                line.unit, line.aim, line.of
            );
        }
        let dearer: Vec<String> = self
            .lines
            .iter()
            .filter(|line| line.is_dearer)
            .map(|line| {
                format!(
                    "{} ({} after {})",
                    line.what,
                    rounded(line.now),
                    line.before.map_or_else(String::new, rounded)
                )
            })
            .collect();
        text += "\nDearer by more than a tenth than in the run before: ";
        text += &if dearer.is_empty() { "nothing".to_owned() } else { dearer.join("; ") };
        text += ".\n";
        text
    }
}

/// The lines of the table in a text.
fn read(text: &str) -> Vec<Line> {
    let inside = text.split_once(BEGINS).and_then(|(_, rest)| rest.split_once(ENDS));
    inside.map_or("", |(inside, _)| inside).lines().filter_map(line_of).collect()
}

fn line_of(line: &str) -> Option<Line> {
    let cells: Vec<&str> =
        line.strip_prefix('|')?.strip_suffix('|')?.split('|').map(str::trim).collect();
    let [what, now, before, aim, of] = cells[..] else { return None };
    let (now, unit) = now.split_once(' ').unwrap_or((now, ""));
    Some(Line {
        what: what.to_owned(),
        now: number(now)?,
        unit: unit.to_owned(),
        before: number(before),
        aim: aim.to_owned(),
        of: of.to_owned(),
        is_dearer: false,
    })
}

fn number(text: &str) -> Option<f64> {
    text.replace(',', "").parse().ok()
}

/// Three digits that count, thousands apart.
fn rounded(figure: f64) -> String {
    let text = match figure.abs() {
        large if 100.0 <= large => format!("{figure:.0}"),
        middle if 10.0 <= middle => format!("{figure:.1}"),
        _ => format!("{figure:.2}"),
    };
    let whole = text.split('.').next().unwrap_or_default().len();
    if whole < 5 {
        return text;
    }
    let digits = text.char_indices().flat_map(|(at, digit)| {
        let parted = 0 < at && (whole - at) % 3 == 0;
        parted.then_some(',').into_iter().chain([digit])
    });
    digits.collect()
}

fn place() -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/load/FIGURES.md"))
}

/// The commit that is measured, and whether something was changed since.
fn commit() -> String {
    let git = |arguments: &[&str]| {
        let done =
            Command::new("git").args(arguments).current_dir(env!("CARGO_MANIFEST_DIR")).output();
        done.ok()
            .filter(|done| done.status.success())
            .map(|done| String::from_utf8_lossy(&done.stdout).trim().to_owned())
    };
    let Some(commit) = git(&["rev-parse", "--short", "HEAD"]) else { return "no commit".into() };
    let changed = git(&["status", "--porcelain", "--untracked-files=no"]);
    if changed.is_some_and(|changed| !changed.is_empty()) {
        format!("{commit} and changes")
    } else {
        commit
    }
}

/// What it was measured on, as the kernel tells it.
fn machine() -> String {
    let file = |path: &str| std::fs::read_to_string(path).unwrap_or_default();
    let cpus = file("/proc/cpuinfo");
    let model = cpus
        .lines()
        .find_map(|line| line.strip_prefix("model name")?.split_once(": "))
        .map_or("a processor without a name", |(_, name)| name);
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let load = file("/proc/loadavg");
    let load = load.split(' ').next().unwrap_or("unknown").to_owned();
    format!(
        "{model}, {cores} cores, load {load} as it began, Linux {}",
        file("/proc/sys/kernel/osrelease").trim()
    )
}
