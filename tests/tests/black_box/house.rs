//! What the map in DEVELOPERS.md says of the service, read from its `use` lines:
//! its rooms are a stack, and only one of them knows each of the two frameworks.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use etui_service::studio::kinds;

/// Rooms that know each other, each with the reason why they may.
const KNOTS: [(&[&str], &str); 4] = [
    (
        &[
            "studio::appointment_checks",
            "studio::history",
            "studio::reminders",
            "studio::treatments",
            // And each kind of entry.
        ],
        "a treatment is read with its entries, an entry is made from the treatment as it stands, \
         both move its reminders, and checks and treatments are held against each other",
    ),
    (
        &[
            "http::answer",
            "http::call",
            "http::compute",
            "http::event_stream",
            "http::state",
            "http::write",
        ],
        "a call knows the state it came to, and the state what is computed, followed and written \
         for calls",
    ),
    (
        &["http::meta", "http::routes"],
        "what the service can do is read from the table of routes, and is told by one of them",
    ),
    (
        &["store::backup", "store::folders"],
        "a folder stands in a list before it holds a backup, and what its backups are to forget \
         stands in rows of it",
    ),
];

/// Where each kind of entry lies: what goes over the rows of [`etui_schema::entries`](mod@etui_schema::entries) names them all.
const ENTRIES: &[&str] = {
    macro_rules! rooms {
        ([] $($(#[$doc:meta])* $member:ident $name:ident $types:tt $calls:tt $more:tt)*) => {
            &[$(concat!("studio::", stringify!($member))),*]
        };
    }
    etui_schema::entries!(rooms)
};

/// Which room may name what.
const OWN: [(&str, &str); 4] =
    [("actix_web", "http"), ("utoipa", "http"), ("sled", "store"), ("tokio_postgres", "store")];

/// A file of the service without its tests.
struct File {
    /// Its path as a module, `studio::treatments::draw`.
    module: String,
    code: String,
}

fn files() -> Vec<File> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../service/src");
    let (mut folders, mut files) = (vec![root.clone()], Vec::new());
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let name = path.strip_prefix(&root).expect("inside").to_string_lossy().into_owned();
            let tests = ["tests.rs", "conformance.rs", "doubles.rs"];
            if !name.ends_with(".rs") || tests.iter().any(|end| name.ends_with(end)) {
                continue;
            }
            let module = name.trim_end_matches(".rs").replace('/', "::");
            let module = module.trim_end_matches("::mod").to_owned();
            let text = fs::read_to_string(&path).expect("text");
            let text = text.split("#[cfg(test)]\nmod tests {").next().unwrap_or_default();
            let code = text.lines().filter(|line| !line.trim_start().starts_with("//"));
            files.push(File { module, code: code.collect::<Vec<_>>().join("\n") });
        }
    }
    files
}

/// The paths of a tree of names as it stands in a `use`: `a::{b, c::d}` is `a::b` and `a::c::d`.
fn paths(tree: &str) -> Vec<String> {
    let Some((before, inside)) = tree.split_once('{') else { return vec![tree.trim().to_owned()] };
    let inside = inside.rsplit_once('}').map_or(inside, |(inside, _)| inside);
    let (mut parts, mut depth) = (vec![String::new()], 0);
    for sign in inside.chars() {
        match sign {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => parts.push(String::new()),
            _ => {}
        }
        if sign != ',' || depth != 0 {
            parts.last_mut().expect("a part").push(sign);
        }
    }
    let whole = |part: &String| paths(&format!("{}{}", before.trim(), part.trim()));
    parts.iter().filter(|part| !part.trim().is_empty()).flat_map(whole).collect()
}

/// Every path that a file names inside the service, from the root.
fn named(file: &File) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = file.code.as_str();
    while let Some(at) = ["crate::", "super::"].iter().filter_map(|word| rest.find(word)).min() {
        let from = &rest[at..];
        let is_use = rest[..at].trim_end().ends_with("use");
        let end = if is_use { from.find(';') } else { from.find(|c: char| !is_in_path(c)) };
        let end = end.unwrap_or(from.len());
        found.extend(paths(&from[..end]));
        rest = &from[end..];
    }
    let rows = if file.code.contains("etui_schema::entries!") { ENTRIES } else { &[] };
    let rows = rows.iter().map(|room| (*room).to_owned());
    found.iter().map(|path| absolute(&file.module, path)).chain(rows).collect()
}

fn is_in_path(sign: char) -> bool {
    sign == ':' || sign == '_' || sign.is_ascii_alphanumeric()
}

fn absolute(module: &str, path: &str) -> String {
    let (mut base, mut path) = (module, path);
    if let Some(rest) = path.strip_prefix("crate::") {
        return rest.to_owned();
    }
    while let Some(rest) = path.strip_prefix("super::") {
        base = base.rsplit_once("::").map_or("", |(parent, _)| parent);
        path = rest;
    }
    format!("{base}::{path}").trim_start_matches("::").to_owned()
}

/// The room of a path: the first two of its names that are rooms.
fn room(rooms: &BTreeSet<String>, path: &str) -> Option<String> {
    let mut parts = path.splitn(3, "::");
    let (first, second) = (parts.next()?, parts.next());
    let both = second.map(|second| format!("{first}::{second}"));
    both.into_iter().chain([first.to_owned()]).find(|name| rooms.contains(name))
}

/// Which rooms each room uses. A parent is the face of its rooms: that it names them is no step.
fn uses() -> BTreeMap<String, BTreeSet<String>> {
    let files = files();
    let short = |module: &str| module.splitn(3, "::").take(2).collect::<Vec<_>>().join("::");
    let rooms: BTreeSet<String> = files.iter().map(|file| short(&file.module)).collect();
    let mut uses: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for file in &files {
        let own = short(&file.module);
        let others = named(file).into_iter().filter_map(|path| room(&rooms, &path));
        let inside = format!("{own}::");
        let others = others.filter(|other| *other != own && !other.starts_with(&inside));
        uses.entry(own.clone()).or_default().extend(others);
    }
    uses
}

fn reached<'a>(uses: &'a BTreeMap<String, BTreeSet<String>>, from: &str) -> BTreeSet<&'a str> {
    let (mut seen, mut next) = (BTreeSet::new(), vec![from.to_owned()]);
    while let Some(room) = next.pop() {
        for other in uses.get(&room).into_iter().flatten() {
            if seen.insert(other.as_str()) {
                next.push(other.clone());
            }
        }
    }
    seen
}

#[test]
fn the_rooms_are_a_stack() {
    let uses = uses();
    let mut knots: BTreeSet<BTreeSet<&str>> = BTreeSet::new();
    for room in uses.keys() {
        let back = |other: &&str| reached(&uses, other).contains(room.as_str());
        let knot: BTreeSet<&str> = reached(&uses, room).into_iter().filter(back).collect();
        if 1 < knot.len() {
            knots.insert(knot);
        }
    }
    let of = |n: usize| if n == 0 { ENTRIES } else { &[] };
    let known = KNOTS.iter().enumerate();
    let known = known.map(|(n, (rooms, _))| rooms.iter().chain(of(n)).copied().collect());
    assert_eq!(knots, known.collect::<BTreeSet<BTreeSet<&str>>>());
}

#[test]
fn each_framework_is_known_to_one_room() {
    for file in files() {
        let top = file.module.split("::").next().unwrap_or_default();
        for (framework, owner) in OWN {
            let names = file.code.split(framework).skip(1).any(|after| after.starts_with("::"));
            assert!(!names || top == owner, "{} names {framework}", file.module);
        }
    }
}

#[test]
fn trees_of_names_are_read() {
    for (tree, want) in [
        ("crate::a", vec!["crate::a"]),
        (
            "crate::a::{b, c::{d, e}, f}",
            vec!["crate::a::b", "crate::a::c::d", "crate::a::c::e", "crate::a::f"],
        ),
        ("super::{\n    self,\n    x::y,\n}", vec!["super::self", "super::x::y"]),
    ] {
        assert_eq!(paths(tree), want, "{tree}");
    }
    assert_eq!(absolute("a::b::c", "super::super::d::E"), "a::d::E");
    assert_eq!(absolute("a::b", "crate::d"), "d");
}

/// A walk over the store tells what lies in a space that it does not know: it has to know all.
#[test]
fn every_space_of_the_store_is_known_to_the_walk() {
    let mut seen = BTreeSet::new();
    for file in files() {
        for before in ["Space::new(\"", "Index::new(\""] {
            let names = file.code.split(before).skip(1).filter_map(|rest| rest.split('"').next());
            seen.extend(names.map(str::to_owned));
        }
    }
    assert!(60 < seen.len(), "{seen:?}");
    let strange: Vec<&String> = seen.iter().filter(|space| !kinds::keeps_in(space)).collect();
    assert!(strange.is_empty(), "no kind of `studio/kinds.rs` and not beside them: {strange:?}");
    assert!(!kinds::keeps_in("zebra"));
}
