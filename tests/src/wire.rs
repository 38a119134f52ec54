//! HTTP/1.1 byte for byte: what a client library would mend or forbid, a test
//! must be able to send.
//!
//! One connection a request, blocking, with a time limit. What cannot be read
//! is an error of the test, so everything here panics with the reason.

use std::io::{self, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::time::Duration;

use etui_schema::problem::Problem;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// How long any one answer may take.
pub const PATIENCE: Duration = Duration::from_secs(30);

/// A request, header by header.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Request {
    /// The method.
    pub method: String,
    /// Path and query.
    pub target: String,
    /// Headers in their order; `Host`, `Connection` and `Content-Length` are
    /// added when sent unless they are here.
    pub headers: Vec<(String, String)>,
    /// The body.
    pub body: Option<Vec<u8>>,
}

impl Request {
    /// A request without headers and body.
    #[must_use]
    pub fn new(method: &str, target: impl Into<String>) -> Self {
        Self { method: method.to_owned(), target: target.into(), headers: Vec::new(), body: None }
    }

    /// A GET.
    #[must_use]
    pub fn get(target: impl Into<String>) -> Self {
        Self::new("GET", target)
    }

    /// A POST of a JSON value.
    #[must_use]
    pub fn post(target: impl Into<String>, body: &Value) -> Self {
        Self::new("POST", target).json(body)
    }

    /// A PUT of a JSON value.
    #[must_use]
    pub fn put(target: impl Into<String>, body: &Value) -> Self {
        Self::new("PUT", target).json(body)
    }

    /// A merge patch (RFC 7396).
    #[must_use]
    pub fn merge(target: impl Into<String>, patch: &Value) -> Self {
        let body = patch.to_string().into_bytes();
        Self::new("PATCH", target).bytes("application/merge-patch+json", body)
    }

    /// Sets a header, in place of one of the same name.
    #[must_use]
    pub fn header(mut self, name: &str, value: impl Into<String>) -> Self {
        self.headers.retain(|(held, _)| !held.eq_ignore_ascii_case(name));
        self.headers.push((name.to_owned(), value.into()));
        self
    }

    /// Takes a header away.
    #[must_use]
    pub fn without(mut self, name: &str) -> Self {
        self.headers.retain(|(held, _)| !held.eq_ignore_ascii_case(name));
        self
    }

    /// Sets the bearer token.
    #[must_use]
    pub fn token(self, token: &str) -> Self {
        self.header("Authorization", format!("Bearer {token}"))
    }

    /// Sets a JSON body.
    #[must_use]
    pub fn json(self, body: &Value) -> Self {
        self.bytes("application/json", body.to_string().into_bytes())
    }

    /// Sets a body of any kind.
    #[must_use]
    pub fn bytes(mut self, media: &str, body: impl Into<Vec<u8>>) -> Self {
        self.body = Some(body.into());
        self.header("Content-Type", media)
    }

    /// The JSON body, if it is one.
    #[must_use]
    pub fn json_body(&self) -> Option<Value> {
        serde_json::from_slice(self.body.as_deref()?).ok()
    }

    /// The path without the query.
    #[must_use]
    pub fn path(&self) -> &str {
        self.target.split('?').next().unwrap_or_default()
    }

    fn has(&self, name: &str) -> bool {
        self.headers.iter().any(|(held, _)| held.eq_ignore_ascii_case(name))
    }

    /// The bytes on the wire.
    #[must_use]
    pub fn to_bytes(&self, address: SocketAddr) -> Vec<u8> {
        let mut head = format!("{} {} HTTP/1.1\r\n", self.method, self.target);
        let mut add = |name: &str, value: &str| {
            head.push_str(&format!("{name}: {value}\r\n"));
        };
        if !self.has("Host") {
            add("Host", &address.to_string());
        }
        if !self.has("Connection") {
            add("Connection", "close");
        }
        for (name, value) in &self.headers {
            add(name, value);
        }
        if let Some(body) = &self.body
            && !self.has("Content-Length")
            && !self.has("Transfer-Encoding")
        {
            add("Content-Length", &body.len().to_string());
        }
        head.push_str("\r\n");
        let mut bytes = head.into_bytes();
        bytes.extend_from_slice(self.body.as_deref().unwrap_or_default());
        bytes
    }

    /// Sends it and reads the answer.
    ///
    /// # Panics
    /// If no whole answer comes.
    #[must_use]
    pub fn send(&self, address: SocketAddr) -> Answer {
        match self.try_send(address) {
            Ok(answer) => answer,
            Err(error) => panic!("{} {}: no answer: {error}", self.method, self.target),
        }
    }

    /// Sends it and reads the answer, if one comes.
    ///
    /// # Errors
    /// What the connection met.
    pub fn try_send(&self, address: SocketAddr) -> io::Result<Answer> {
        let stream = connect(address)?;
        let mut writer = stream.try_clone()?;
        let bytes = self.to_bytes(address);
        // A server may answer before it has read everything; the rest of the
        // writing may then fail, and the answer still counts.
        let writing = std::thread::spawn(move || writer.write_all(&bytes));
        let answer = read_answer(&stream, self.method == "HEAD");
        let _ = stream.shutdown(std::net::Shutdown::Both);
        let _ = writing.join();
        answer
    }
}

/// Opens a connection with the usual patience.
///
/// # Errors
/// What the system says.
pub fn connect(address: SocketAddr) -> io::Result<TcpStream> {
    let stream = TcpStream::connect_timeout(&address, PATIENCE)?;
    stream.set_read_timeout(Some(PATIENCE))?;
    stream.set_write_timeout(Some(PATIENCE))?;
    stream.set_nodelay(true)?;
    Ok(stream)
}

/// Sends raw bytes and reads one answer.
///
/// # Errors
/// What the connection met.
pub fn exchange(address: SocketAddr, bytes: &[u8]) -> io::Result<Answer> {
    let mut stream = connect(address)?;
    stream.write_all(bytes)?;
    read_answer(&stream, false)
}

/// An answer, read to its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// The status.
    pub status: u16,
    /// Headers in their order, names in lower case.
    pub headers: Vec<(String, String)>,
    /// The body, transfer coding undone.
    pub body: Vec<u8>,
}

impl Answer {
    /// The first header of a name.
    #[must_use]
    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers
            .iter()
            .find(|(held, _)| held.eq_ignore_ascii_case(name))
            .map(|(_, value)| value.as_str())
    }

    /// The media type without its parameters.
    #[must_use]
    pub fn media(&self) -> &str {
        self.header("content-type").unwrap_or_default().split(';').next().unwrap_or_default().trim()
    }

    /// The body as text.
    #[must_use]
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// The body as JSON of a type.
    ///
    /// # Panics
    /// If it is not that.
    #[must_use]
    pub fn read<T: DeserializeOwned>(&self) -> T {
        match serde_json::from_slice(&self.body) {
            Ok(value) => value,
            Err(error) => panic!("{error} in the answer {}: {}", self.status, self.text()),
        }
    }

    /// The body as any JSON.
    ///
    /// # Panics
    /// If it is not JSON.
    #[must_use]
    pub fn json(&self) -> Value {
        self.read()
    }

    /// The body as a problem, after a check of its media type.
    ///
    /// # Panics
    /// If it is not a problem.
    #[must_use]
    pub fn problem(&self) -> Problem {
        assert_eq!(self.media(), "application/problem+json", "{} {}", self.status, self.text());
        self.read()
    }
}

/// Reads one answer from a stream.
///
/// # Errors
/// If the stream ends early or what comes is no HTTP/1.1 answer.
pub fn read_answer(stream: &TcpStream, without_body: bool) -> io::Result<Answer> {
    let mut reader = Reader { stream, held: Vec::new() };
    let (status, headers) = reader.head()?;
    let mut answer = Answer { status, headers, body: Vec::new() };
    if without_body || status == 204 || status == 304 || status < 200 {
        return Ok(answer);
    }
    answer.body = if answer.header("transfer-encoding") == Some("chunked") {
        reader.chunks()?
    } else if let Some(length) = answer.header("content-length") {
        reader.exactly(length.parse().map_err(|_| odd("a content length"))?)?
    } else {
        reader.rest()?
    };
    Ok(answer)
}

struct Reader<'s> {
    stream: &'s TcpStream,
    held: Vec<u8>,
}

impl Reader<'_> {
    fn more(&mut self) -> io::Result<usize> {
        let mut buffer = [0; 16 * 1024];
        let read = self.stream.read(&mut buffer)?;
        self.held.extend_from_slice(&buffer[..read]);
        Ok(read)
    }

    fn until(&mut self, end: &[u8]) -> io::Result<Vec<u8>> {
        loop {
            if let Some(at) = self.held.windows(end.len()).position(|w| w == end) {
                let rest = self.held.split_off(at + end.len());
                let mut found = std::mem::replace(&mut self.held, rest);
                found.truncate(at);
                return Ok(found);
            }
            if self.more()? == 0 {
                return Err(io::ErrorKind::UnexpectedEof.into());
            }
        }
    }

    fn head(&mut self) -> io::Result<(u16, Vec<(String, String)>)> {
        let head = self.until(b"\r\n\r\n")?;
        let head = String::from_utf8_lossy(&head);
        let mut lines = head.split("\r\n");
        let first = lines.next().unwrap_or_default();
        let status = first.split(' ').nth(1).and_then(|s| s.parse().ok());
        let headers = lines
            .filter_map(|line| line.split_once(':'))
            .map(|(name, value)| (name.to_ascii_lowercase(), value.trim().to_owned()))
            .collect();
        Ok((status.ok_or_else(|| odd("a status line"))?, headers))
    }

    fn exactly(&mut self, length: usize) -> io::Result<Vec<u8>> {
        while self.held.len() < length {
            if self.more()? == 0 {
                return Err(io::ErrorKind::UnexpectedEof.into());
            }
        }
        let rest = self.held.split_off(length);
        Ok(std::mem::replace(&mut self.held, rest))
    }

    fn chunks(&mut self) -> io::Result<Vec<u8>> {
        let mut all = Vec::new();
        loop {
            let line = self.until(b"\r\n")?;
            let length = std::str::from_utf8(&line)
                .ok()
                .and_then(|text| usize::from_str_radix(text.trim(), 16).ok())
                .ok_or_else(|| odd("the length of a chunk"))?;
            all.extend(self.exactly(length)?);
            self.until(b"\r\n")?;
            if length == 0 {
                return Ok(all);
            }
        }
    }

    fn rest(&mut self) -> io::Result<Vec<u8>> {
        while self.more()? != 0 {}
        Ok(std::mem::take(&mut self.held))
    }
}

fn odd(what: &str) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidData, format!("{what} could not be read"))
}
