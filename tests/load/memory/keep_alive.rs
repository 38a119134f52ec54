//! A connection that is kept open: what a script of the studio would use.

use std::io::Write;
use std::net::{SocketAddr, TcpStream};
use std::time::{Duration, Instant};

use etui_tests::running::with_token;
use etui_tests::wire::{Answer, Request, connect, read_answer};

/// One open connection.
pub(crate) struct Connection {
    address: SocketAddr,
    token: String,
    stream: TcpStream,
}

impl Connection {
    pub(crate) fn open(address: SocketAddr, token: &str) -> Self {
        let stream = connect(address).expect("a connection");
        Self { address, token: token.to_owned(), stream }
    }

    /// Sends a request and waits for its answer, which must be a good one.
    pub(crate) fn ask(&mut self, request: &Request) -> (Answer, Duration) {
        let request = with_token(request, &self.token).header("Connection", "keep-alive");
        let bytes = request.to_bytes(self.address);
        let started = Instant::now();
        self.stream.write_all(&bytes).expect("the bytes are taken");
        let answer = read_answer(&self.stream, false).expect("an answer");
        let took = started.elapsed();
        assert!(answer.status < 300, "{}: {}", request.target, answer.text());
        (answer, took)
    }
}

/// The value below which this share of all lies.
pub(crate) fn quantile(all: &mut [Duration], share: f64) -> Duration {
    all.sort_unstable();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "a place in a list of a few thousand"
    )]
    let place = ((all.len() as f64) * share) as usize;
    all.get(place.min(all.len().saturating_sub(1))).copied().unwrap_or_default()
}
