//! A connection that is kept open: what a script of the studio would use.

use std::io::{self, Write};
use std::net::{SocketAddr, TcpStream};
use std::time::Duration;

use crate::running::with_token;
use crate::wire::{Answer, Request, connect, read_answer};

/// One open connection.
#[derive(Debug)]
pub struct Connection {
    address: SocketAddr,
    token: String,
    stream: TcpStream,
}

impl Connection {
    /// Connects; `token` goes with every request that carries none.
    ///
    /// # Errors
    /// What the system says.
    pub fn open(address: SocketAddr, token: &str) -> io::Result<Self> {
        Ok(Self { address, token: token.to_owned(), stream: connect(address)? })
    }

    /// Waits for so long for each answer, instead of as long as a test does.
    ///
    /// # Errors
    /// What the system says.
    pub fn waits(&self, most: Duration) -> io::Result<()> {
        self.stream.set_read_timeout(Some(most))
    }

    /// Sends a request and waits for its answer, whatever its status.
    ///
    /// # Errors
    /// If no whole answer comes; the connection is of no more use then.
    pub fn ask(&mut self, request: &Request) -> io::Result<Answer> {
        let request = with_token(request, &self.token).header("Connection", "keep-alive");
        self.exchange(&request.to_bytes(self.address))
    }

    /// Sends the bytes of a request that were put together already.
    ///
    /// # Errors
    /// As [`Connection::ask`].
    pub fn exchange(&mut self, bytes: &[u8]) -> io::Result<Answer> {
        self.stream.write_all(bytes)?;
        read_answer(&self.stream, false)
    }
}
