//! Requests over one kept connection, as cheap for the sender as can be.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};

use etui_tests::wire::Request;

/// A kept connection.
pub(crate) struct Keeper {
    reader: BufReader<TcpStream>,
}

/// The head of a request without its length.
pub(crate) fn head(request: &Request, token: &str) -> String {
    format!(
        "{} {} HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nAuthorization: Bearer {token}\r\n",
        request.method, request.target
    )
}

impl Keeper {
    /// Connects.
    pub(crate) fn connect(address: SocketAddr) -> Self {
        let stream = TcpStream::connect(address).expect("a listening server");
        stream.set_nodelay(true).expect("a socket");
        Self { reader: BufReader::with_capacity(1 << 16, stream) }
    }

    /// Sends one request and reads its answer's body; anything but 200 ends the bench.
    pub(crate) fn call(&mut self, head: &str, body: &[u8]) -> Vec<u8> {
        let mut sent = format!("{head}Content-Length: {}\r\n\r\n", body.len()).into_bytes();
        sent.extend_from_slice(body);
        self.reader.get_mut().write_all(&sent).expect("a writable socket");
        let mut length = 0;
        let mut line = String::new();
        self.reader.read_line(&mut line).expect("a status line");
        assert!(line.starts_with("HTTP/1.1 200"), "{head}: {line}");
        loop {
            line.clear();
            self.reader.read_line(&mut line).expect("a header");
            if line == "\r\n" {
                break;
            }
            if let Some((name, value)) = line.split_once(':')
                && name.eq_ignore_ascii_case("content-length")
            {
                length = value.trim().parse().expect("a length");
            }
        }
        let mut answer = vec![0; length];
        self.reader.read_exact(&mut answer).expect("a whole body");
        answer
    }
}
