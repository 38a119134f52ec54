//! The application identifiers as data: number, format, checks, companions.
//!
//! Loaded once from `rules/label/application_identifiers.toml`; looked up by
//! the first two digits, which tell how long the identifier itself is (GS1
//! General Specifications, figure "element strings with pre-defined length",
//! and TDT 2.0 table K).

use std::collections::BTreeSet;
use std::sync::Arc;

use serde::Deserialize;

use super::lint::Check;
use crate::evidence::Register;
use crate::rules::{self, Origin, RuleFault, RuleFile, rule_file};

/// An application identifier's digits, or a pattern with `n` for any digit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Number {
    digits: [u8; 4],
    len: u8,
}

impl Number {
    fn parse(text: &str) -> Option<Self> {
        let bytes = text.as_bytes();
        let fits = (2..=4).contains(&bytes.len())
            && bytes.iter().all(|b| b.is_ascii_digit() || *b == b'n');
        if !fits {
            return None;
        }
        let mut digits = [0; 4];
        digits[..bytes.len()].copy_from_slice(bytes);
        Some(Self { digits, len: u8::try_from(bytes.len()).ok()? })
    }

    /// Whether this pattern stands for that number.
    pub(crate) fn stands_for(self, other: Self) -> bool {
        self.len == other.len
            && self.digits.iter().zip(other.digits).all(|(p, d)| *p == b'n' || *p == d)
    }
}

/// What characters a part may hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Set {
    Digits,
    Cset82,
    Cset39,
    Base64,
}

/// One part of an element's format.
#[derive(Debug, Clone)]
pub(crate) struct Part {
    pub(crate) set: Set,
    pub(crate) min: usize,
    pub(crate) max: usize,
    pub(crate) optional: bool,
    pub(crate) checks: Vec<Check>,
}

/// What the packet reader takes an element for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Role {
    #[default]
    None,
    Gtin,
    ContentGtin,
    Lot,
    Serial,
    Made,
    MadeTime,
    Packed,
    BestBefore,
    Expires,
    ExpiresTime,
    Quantity,
    ContentCount,
    Reference,
    CustomerPart,
}

/// Alternatives, each a set of companions that must all be there.
pub(crate) type Need = Vec<Vec<Number>>;

/// One application identifier.
#[derive(Debug, Clone)]
pub(crate) struct Ai {
    pub(crate) key: Arc<str>,
    pub(crate) number: Number,
    /// The key of what it is called.
    pub(crate) title: Arc<str>,
    pub(crate) fixed: bool,
    pub(crate) attribute: bool,
    pub(crate) parts: Vec<Part>,
    pub(crate) max: usize,
    pub(crate) needs: Vec<Need>,
    pub(crate) needs_text: Arc<str>,
    pub(crate) excludes: Vec<Number>,
    /// Sequences of qualifiers if it is a primary key of a Digital Link.
    pub(crate) qualifiers: Option<Vec<Vec<Number>>>,
    pub(crate) role: Role,
}

/// Every application identifier.
#[derive(Debug, Clone)]
pub(crate) struct Table {
    ais: Vec<Ai>,
    /// Length of the identifier by its first two digits; 0 if unknown.
    length: [u8; 100],
    /// Index + 1 by the digits padded with zeros on the right.
    index: Vec<u16>,
}

impl Table {
    /// The table compiled into this build, and its source.
    pub(crate) fn builtin(register: &Register) -> Result<(Self, Origin), RuleFault> {
        let file: File = rules::load(register, FILE)?;
        let mut table = Self { ais: Vec::new(), length: [0; 100], index: vec![0; 10_000] };
        for (at, row) in file.ai.iter().enumerate() {
            table.add(row).map_err(|why| RuleFault::new(FILE.name, format!("/ai/{at}"), why))?;
        }
        Ok((table, file.source))
    }

    /// The identifier that the data begins with, and its index.
    #[inline]
    pub(crate) fn at(&self, data: &[u8]) -> Option<(u16, &Ai)> {
        let (a, b) = (digit(*data.first()?)?, digit(*data.get(1)?)?);
        let len = usize::from(self.length[a * 10 + b]);
        if len == 0 || data.len() < len {
            return None;
        }
        let c = if 2 < len { digit(data[2])? } else { 0 };
        let d = if 3 < len { digit(data[3])? } else { 0 };
        let slot = self.index[a * 1000 + b * 100 + c * 10 + d];
        let index = slot.checked_sub(1)?;
        Some((index, &self.ais[usize::from(index)]))
    }

    /// The identifier written exactly so.
    pub(crate) fn exactly(&self, number: &[u8]) -> Option<(u16, &Ai)> {
        self.at(number).filter(|(_, ai)| ai.key.len() == number.len())
    }

    /// The keys of what they are called; a range has one.
    pub(crate) fn titles(&self) -> BTreeSet<&str> {
        self.ais.iter().map(|ai| &*ai.title).collect()
    }

    /// The identifier of an index that [`Table::at`] gave.
    pub(crate) fn get(&self, index: u16) -> &Ai {
        &self.ais[usize::from(index)]
    }

    fn add(&mut self, row: &Row) -> Result<(), &'static str> {
        let (first, last) = row.ai.split_once('-').unwrap_or((&row.ai, &row.ai));
        let parse = |t: &str| t.parse::<u16>().map_err(|_| "the number is not digits");
        for number in parse(first)?..=parse(last)? {
            let key = format!("{number:0width$}", width = first.len());
            let ai = row.build(&key, first).ok_or("the format or a companion is unreadable")?;
            let padded = format!("{key:0<4}");
            let two = usize::from(parse(&padded[..2])?);
            let len = u8::try_from(key.len()).unwrap_or(u8::MAX);
            if self.length[two] != 0 && self.length[two] != len {
                return Err("two lengths of identifier share the first two digits");
            }
            self.length[two] = len;
            self.ais.push(ai);
            let slot = u16::try_from(self.ais.len()).map_err(|_| "too many rows")?;
            self.index[usize::from(parse(&padded)?)] = slot;
        }
        Ok(())
    }
}

#[inline]
fn digit(byte: u8) -> Option<usize> {
    byte.is_ascii_digit().then(|| usize::from(byte - b'0'))
}

const FILE: RuleFile = rule_file!("label/application_identifiers.toml");

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct File {
    source: Origin,
    ai: Vec<Row>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    ai: String,
    format: String,
    #[serde(default)]
    fixed: bool,
    #[serde(default)]
    attribute: bool,
    needs: Option<String>,
    excludes: Option<String>,
    key: Option<String>,
    #[serde(default)]
    role: Role,
}

impl Row {
    fn build(&self, key: &str, first: &str) -> Option<Ai> {
        let parts: Vec<Part> = self.format.split(' ').map(part).collect::<Option<_>>()?;
        let list = |text: &str, by: char| -> Option<Vec<Number>> {
            text.split(by).filter(|t| !t.is_empty()).map(Number::parse).collect()
        };
        let needs = self.needs.as_deref().unwrap_or_default();
        Some(Ai {
            key: key.into(),
            number: Number::parse(key)?,
            title: format!("element.{first}").into(),
            fixed: self.fixed,
            attribute: self.attribute,
            max: parts.iter().map(|p| p.max).sum(),
            parts,
            needs: needs
                .split(';')
                .filter(|t| !t.is_empty())
                .map(|need| need.split('|').map(|all| list(all, '+')).collect())
                .collect::<Option<_>>()?,
            needs_text: needs.replace('|', " / ").replace('+', " + ").replace(';', "; ").into(),
            excludes: list(self.excludes.as_deref().unwrap_or_default(), ',')?,
            qualifiers: match &self.key {
                Some(text) => {
                    Some(text.split('|').map(|one| list(one, ',')).collect::<Option<_>>()?)
                }
                None => None,
            },
            role: self.role,
        })
    }
}

/// `N14,csum,key`, `X..20`, `[N6],yymmdd`.
fn part(text: &str) -> Option<Part> {
    let mut pieces = text.split(',');
    let head = pieces.next()?;
    let optional = head.starts_with('[');
    let head = head.trim_start_matches('[').trim_end_matches(']');
    let (set, size) = head.split_at_checked(1)?;
    let set = match set {
        "N" => Set::Digits,
        "X" => Set::Cset82,
        "Y" => Set::Cset39,
        "Z" => Set::Base64,
        _ => return None,
    };
    let (min, max) = match size.strip_prefix("..") {
        Some(max) => (1, max.parse().ok()?),
        None => (size.parse().ok()?, size.parse().ok()?),
    };
    let checks = pieces.map(|p| Check::named(p.trim_end_matches(']'))).collect::<Option<_>>()?;
    Some(Part { set, min, max, optional, checks })
}
