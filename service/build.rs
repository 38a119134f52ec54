//! Packs the document of the interface, which is served and held to as it is checked in.

use std::io::{self, Write};
use std::path::Path;
use std::{env, fs};

use flate2::Compression;
use flate2::write::GzEncoder;

const DOCUMENT: &str = "../openapi/openapi.json";

fn main() -> io::Result<()> {
    println!("cargo::rerun-if-changed={DOCUMENT}");
    let packed = Path::new(&env::var_os("OUT_DIR").unwrap_or_default()).join("openapi.json.gz");
    let mut packer = GzEncoder::new(fs::File::create(packed)?, Compression::best());
    packer.write_all(&without_blanks(&fs::read(DOCUMENT)?))?;
    packer.finish().map(drop)
}

/// JSON without what parts its signs for the eye.
fn without_blanks(json: &[u8]) -> Vec<u8> {
    let (mut in_text, mut escaped) = (false, false);
    let stays = |sign: &u8| {
        if in_text {
            (in_text, escaped) = (escaped || *sign != b'"', !escaped && *sign == b'\\');
            return true;
        }
        in_text = *sign == b'"';
        !sign.is_ascii_whitespace()
    };
    json.iter().copied().filter(stays).collect()
}
