//! Packs the document of the interface, which is served and held to as it is checked in, and the files
//! that others wrote of the page on which it is read.

use std::io::{self, Cursor, Read, Write};
use std::path::Path;
use std::{env, fs};

use flate2::Compression;
use flate2::write::GzEncoder;
use utoipa_swagger_ui_vendored::SWAGGER_UI_VENDORED;
use zip::ZipArchive;

const DOCUMENT: &str = "../openapi/openapi.json";
/// In an archive, each in the folder of its release.
const FILES: [&str; 2] = ["swagger-ui-bundle.js", "swagger-ui.css"];

fn main() -> io::Result<()> {
    println!("cargo::rerun-if-changed={DOCUMENT}");
    println!("cargo::rerun-if-changed=build.rs");
    pack("openapi.json", &without_blanks(&fs::read(DOCUMENT)?))?;
    let mut archive = ZipArchive::new(Cursor::new(SWAGGER_UI_VENDORED))?;
    for at in 0..archive.len() {
        let mut file = archive.by_index(at)?;
        let path = file.name()?.into_owned();
        if let Some(name) = FILES.iter().find(|name| path.ends_with(&format!("/dist/{name}"))) {
            let mut plain = Vec::new();
            file.read_to_end(&mut plain)?;
            pack(name, &plain)?;
        }
    }
    Ok(())
}

fn pack(name: &str, file: &[u8]) -> io::Result<()> {
    let folder = env::var_os("OUT_DIR").unwrap_or_default();
    let packed = fs::File::create(Path::new(&folder).join(format!("{name}.gz")))?;
    let mut packer = GzEncoder::new(packed, Compression::best());
    packer.write_all(file)?;
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
