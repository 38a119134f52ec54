//! A receiver of webhooks that does as it is told, and remembers what it heard.

use std::io::{self, Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::sync::{Arc, Condvar, Mutex};
use std::time::Duration;

use etui_schema::events::Event;

use crate::wire::PATIENCE;

/// What a receiver does with a request.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Manner {
    /// Answers with this status.
    Answers(u16),
    /// Answers with a redirect to itself.
    Redirects,
    /// Hangs up without an answer.
    HangsUp,
    /// Never answers, and keeps the connection.
    Waits,
}

/// One request as it came.
#[derive(Debug, Clone)]
pub struct Heard {
    /// The request line.
    pub line: String,
    /// The headers, names in lower case.
    pub headers: Vec<(String, String)>,
    /// The body.
    pub body: Vec<u8>,
    /// Whether it was answered with a status from 200 to 299.
    pub taken: bool,
}

impl Heard {
    /// A header, or nothing.
    #[must_use]
    pub fn header(&self, name: &str) -> &str {
        let found = self.headers.iter().find(|(held, _)| held == name);
        found.map_or("", |(_, value)| value.as_str())
    }

    /// The headers as a check wants them.
    pub fn pairs(&self) -> impl Iterator<Item = (&str, &str)> {
        self.headers.iter().map(|(name, value)| (name.as_str(), value.as_str()))
    }

    /// The event.
    ///
    /// # Panics
    /// If the body is none.
    #[must_use]
    pub fn event(&self) -> Event {
        serde_json::from_slice(&self.body).expect("an event")
    }
}

struct Shared {
    manner: Mutex<Manner>,
    heard: Mutex<Vec<Heard>>,
    more: Condvar,
    kept: Mutex<Vec<TcpStream>>,
}

/// A receiver on a free loopback port. Its thread ends with the process.
pub struct Receiver {
    address: SocketAddr,
    shared: Arc<Shared>,
}

impl Receiver {
    /// Starts one.
    ///
    /// # Panics
    /// If there is no free port.
    #[must_use]
    pub fn start(manner: Manner) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
        let address = listener.local_addr().expect("an address");
        let shared = Arc::new(Shared {
            manner: Mutex::new(manner),
            heard: Mutex::default(),
            more: Condvar::new(),
            kept: Mutex::default(),
        });
        let served = Arc::clone(&shared);
        std::thread::spawn(move || {
            for stream in listener.incoming().flatten() {
                let shared = Arc::clone(&served);
                std::thread::spawn(move || serve(stream, &shared));
            }
        });
        Self { address, shared }
    }

    /// The address to subscribe with.
    #[must_use]
    pub fn url(&self) -> String {
        format!("http://{}/hooks?from=etui", self.address)
    }

    /// Changes its manner.
    ///
    /// # Panics
    /// Never, short of a panic elsewhere.
    pub fn now(&self, manner: Manner) {
        *self.shared.manner.lock().expect("a lock") = manner;
    }

    /// All that it heard so far.
    ///
    /// # Panics
    /// Never, short of a panic elsewhere.
    #[must_use]
    pub fn heard(&self) -> Vec<Heard> {
        self.shared.heard.lock().expect("a lock").clone()
    }

    /// Waits until what it heard satisfies a condition.
    ///
    /// # Panics
    /// If that does not come to be.
    pub fn wait(&self, what: &str, holds: impl Fn(&[Heard]) -> bool) -> Vec<Heard> {
        let heard = self.shared.heard.lock().expect("a lock");
        let (heard, time) = self
            .shared
            .more
            .wait_timeout_while(heard, PATIENCE, |heard| !holds(heard))
            .expect("a lock");
        assert!(!time.timed_out(), "{what}: {} were heard", heard.len());
        heard.clone()
    }

    /// Waits until it has taken so many.
    pub fn wait_for(&self, taken: usize) -> Vec<Heard> {
        let all = self.wait("events", |heard| taken <= heard.iter().filter(|h| h.taken).count());
        all.into_iter().filter(|heard| heard.taken).collect()
    }
}

fn serve(mut stream: TcpStream, shared: &Shared) {
    let Ok(mut heard) = read(&mut stream) else { return };
    let manner = *shared.manner.lock().expect("a lock");
    let answer = match manner {
        Manner::Answers(status) => {
            heard.taken = (200..300).contains(&status);
            format!("HTTP/1.1 {status} Answered\r\nContent-Length: 0\r\n\r\n")
        }
        Manner::Redirects => {
            "HTTP/1.1 302 Elsewhere\r\nLocation: /elsewhere\r\nContent-Length: 0\r\n\r\n".to_owned()
        }
        Manner::HangsUp | Manner::Waits => String::new(),
    };
    // Written down before it is answered, so that whoever sees the effect of the answer finds it.
    shared.heard.lock().expect("a lock").push(heard);
    shared.more.notify_all();
    let _ = stream.write_all(answer.as_bytes());
    if manner == Manner::Waits {
        shared.kept.lock().expect("a lock").push(stream);
    }
}

fn read(stream: &mut TcpStream) -> io::Result<Heard> {
    stream.set_read_timeout(Some(Duration::from_secs(10)))?;
    let mut bytes = Vec::new();
    let head = loop {
        if let Some(at) = bytes.windows(4).position(|w| w == b"\r\n\r\n") {
            break at;
        }
        let mut buffer = [0; 4096];
        match stream.read(&mut buffer)? {
            0 => return Err(io::ErrorKind::UnexpectedEof.into()),
            read => bytes.extend_from_slice(&buffer[..read]),
        }
    };
    let text = String::from_utf8_lossy(&bytes[..head]).into_owned();
    let mut lines = text.split("\r\n");
    let line = lines.next().unwrap_or_default().to_owned();
    let headers: Vec<(String, String)> = lines
        .filter_map(|line| line.split_once(':'))
        .map(|(name, value)| (name.to_ascii_lowercase(), value.trim().to_owned()))
        .collect();
    let length = headers.iter().find(|(name, _)| name == "content-length");
    let length: usize = length.and_then(|(_, value)| value.parse().ok()).unwrap_or(0);
    let mut body = bytes.split_off(head + 4);
    let held = body.len();
    body.resize(length.max(held), 0);
    stream.read_exact(&mut body[held..])?;
    Ok(Heard { line, headers, body, taken: false })
}
