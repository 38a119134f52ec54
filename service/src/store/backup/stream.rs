//! A sealed stream of any length.
//!
//! ```text
//! {"kind":"etui-backup","v":1,"at":"…","nonce":"…"}
//! length(u32) ciphertext and tag
//! length(u32) ciphertext and tag
//! …
//! ```
//!
//! Each frame holds up to 64 KiB. Its nonce is the file's own 16 bytes, the
//! frame's number and whether it is the last one; the first line is associated
//! data. So frames cannot be altered, exchanged, repeated or cut off unnoticed.

use std::io::{self, BufRead, Read, Write};

use serde::{Deserialize, Serialize};

use crate::store::{
    record::hex,
    seal::{Entropy, decrypt, draw, encrypt},
};

const KIND: &str = "etui-backup";
const VERSION: u32 = 1;
const FRAME_BYTES: usize = 64 << 10;
const TAG_BYTES: usize = 16;
const LONGEST_HEADER_BYTES: u64 = 1024;

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Header {
    kind: String,
    v: u32,
    at: String,
    /// 32 hexadecimal digits.
    nonce: String,
}

struct Frames {
    key: [u8; 32],
    header: Vec<u8>,
    nonce: [u8; 16],
    number: u32,
}

impl Frames {
    fn new(key: [u8; 32], header: Vec<u8>, nonce: [u8; 16]) -> Self {
        Self { key, header, nonce, number: 0 }
    }

    /// The nonce of the next frame.
    fn next(&mut self, last: bool) -> io::Result<[u8; 24]> {
        let mut nonce = [0; 24];
        nonce[..16].copy_from_slice(&self.nonce);
        nonce[16..20].copy_from_slice(&self.number.to_be_bytes());
        nonce[20] = u8::from(last);
        self.number =
            self.number.checked_add(1).ok_or_else(|| io::Error::other("the backup is too long"))?;
        Ok(nonce)
    }
}

/// Seals what is written to it.
pub(super) struct Writer<W> {
    out: W,
    frames: Frames,
    buffer: Vec<u8>,
}

impl<W: Write> Writer<W> {
    pub(super) fn start(
        mut out: W,
        key: [u8; 32],
        at: &str,
        entropy: &mut Entropy<'_>,
    ) -> io::Result<Self> {
        let nonce: [u8; 16] = draw(entropy).map_err(io::Error::other)?;
        let header =
            Header { kind: KIND.into(), v: VERSION, at: at.to_owned(), nonce: hex(&nonce) };
        let mut line = serde_json::to_vec(&header)?;
        line.push(b'\n');
        out.write_all(&line)?;
        Ok(Self { out, frames: Frames::new(key, line, nonce), buffer: Vec::new() })
    }

    /// Writes the last frame; only a finished stream can be read.
    pub(super) fn finish(mut self) -> io::Result<W> {
        self.frame(true)?;
        Ok(self.out)
    }

    fn frame(&mut self, last: bool) -> io::Result<()> {
        let nonce = self.frames.next(last)?;
        let Frames { key, header, .. } = &self.frames;
        let sealed = encrypt(key, &nonce, header, &self.buffer)
            .map_err(|_| io::Error::other("a frame cannot be sealed"))?;
        let len = u32::try_from(sealed.len()).map_err(io::Error::other)?;
        self.buffer.clear();
        self.out.write_all(&len.to_be_bytes())?;
        self.out.write_all(&sealed)
    }
}

impl<W: Write> Write for Writer<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if FRAME_BYTES <= self.buffer.len() {
            self.frame(false)?;
        }
        let taken = bytes.len().min(FRAME_BYTES - self.buffer.len());
        self.buffer.extend_from_slice(&bytes[..taken]);
        Ok(taken)
    }

    /// Does nothing: a frame ends when it is full or the stream is finished.
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Opens a sealed stream as it is read.
pub(super) struct Reader<R> {
    input: R,
    frames: Frames,
    frame: io::Cursor<Vec<u8>>,
    ended: bool,
}

impl<R: BufRead> Reader<R> {
    pub(super) fn start(mut input: R, key: [u8; 32]) -> io::Result<Self> {
        let mut line = Vec::new();
        input.by_ref().take(LONGEST_HEADER_BYTES).read_until(b'\n', &mut line)?;
        let header: Header = serde_json::from_slice(&line).map_err(|_| damaged("its header"))?;
        if header.kind != KIND || header.v != VERSION {
            return Err(damaged("its kind or version"));
        }
        let nonce = u128::from_str_radix(&header.nonce, 16).map_err(|_| damaged("its header"))?;
        let frames = Frames::new(key, line, nonce.to_be_bytes());
        Ok(Self { input, frames, frame: io::Cursor::default(), ended: false })
    }

    fn next_frame(&mut self) -> io::Result<()> {
        let mut len = [0; 4];
        self.input.read_exact(&mut len).map_err(|_| damaged("its end: it is cut short"))?;
        let len = usize::try_from(u32::from_be_bytes(len)).unwrap_or(usize::MAX);
        if FRAME_BYTES + TAG_BYTES < len {
            return Err(damaged("a frame"));
        }
        let mut sealed = vec![0; len];
        self.input.read_exact(&mut sealed).map_err(|_| damaged("its end: it is cut short"))?;
        let last = self.input.fill_buf()?.is_empty();
        let nonce = self.frames.next(last)?;
        let Frames { key, header, .. } = &self.frames;
        let opened = decrypt(key, &nonce, header, &sealed);
        self.frame = io::Cursor::new(opened.map_err(|_| damaged("a frame"))?);
        self.ended = last;
        Ok(())
    }
}

impl<R: BufRead> Read for Reader<R> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        loop {
            let n = self.frame.read(out)?;
            if 0 < n || self.ended || out.is_empty() {
                return Ok(n);
            }
            self.next_frame()?;
        }
    }
}

fn damaged(what: &str) -> io::Error {
    io::Error::new(
        io::ErrorKind::InvalidData,
        format!("the backup is damaged or the keys are of another one: {what} does not open"),
    )
}

#[cfg(test)]
mod tests {
    use super::{super::super::seal::test_entropy, *};

    const KEY: [u8; 32] = [5; 32];

    fn sealed(text: &[u8]) -> Vec<u8> {
        let at = "2026-03-01T10:00:00Z";
        let mut out = Writer::start(Vec::new(), KEY, at, &mut test_entropy(1)).unwrap();
        out.write_all(text).unwrap();
        out.finish().unwrap()
    }

    fn opened(stream: &[u8], key: [u8; 32]) -> io::Result<Vec<u8>> {
        let mut text = Vec::new();
        Reader::start(stream, key)?.read_to_end(&mut text)?;
        Ok(text)
    }

    #[test]
    fn streams_of_every_length_come_back() {
        for len in [0, 1, FRAME_BYTES - 1, FRAME_BYTES, FRAME_BYTES + 1, 3 * FRAME_BYTES + 7] {
            let text: Vec<u8> = (0..len).map(|i| u8::try_from(i % 251).unwrap()).collect();
            assert_eq!(opened(&sealed(&text), KEY).unwrap(), text, "{len} bytes");
        }
    }

    #[test]
    fn a_stream_that_was_touched_does_not_open() {
        let text = vec![7; 2 * FRAME_BYTES + 9];
        let good = sealed(&text);
        let header = good.iter().position(|b| *b == b'\n').unwrap() + 1;
        let frame = 4 + FRAME_BYTES + TAG_BYTES;
        let frames: Vec<&[u8]> = good[header..].chunks(frame).collect();
        let with = |order: &[usize]| {
            let picked = order.iter().flat_map(|i| frames[*i].iter().copied());
            good[..header].iter().copied().chain(picked).collect::<Vec<u8>>()
        };
        assert_eq!(with(&[0, 1, 2]), good);
        let mut altered = good.clone();
        altered[header + 100] ^= 1;
        let mut renamed = good.clone();
        renamed[header - 40] ^= 1;
        for (case, stream) in [
            ("altered", altered),
            ("another header", renamed),
            ("exchanged frames", with(&[1, 0, 2])),
            ("repeated frame", with(&[0, 0, 1, 2])),
            ("missing frame", with(&[0, 2])),
            ("cut after a whole frame", with(&[0, 1])),
            ("cut within a frame", good[..good.len() - 3].to_vec()),
            ("longer", [good.as_slice(), &[0]].concat()),
            ("no frame", with(&[])),
            ("empty", Vec::new()),
        ] {
            assert!(opened(&stream, KEY).is_err(), "{case}");
        }
        assert!(opened(&good, [6; 32]).is_err(), "another key");
    }
}
