//! The bare echo: actix-web with one handler that answers with the body.

use std::io::{BufRead, BufReader};
use std::net::SocketAddr;
use std::process::{Child, Command, ExitCode, Stdio};

use actix_web::{App, HttpResponse, HttpServer, web};

/// The argument that makes this program the echo.
pub(crate) const FLAG: &str = "--echo";
/// The service's own default.
const WORKERS: usize = 2;
/// Larger than any body that is sent.
const LIMIT: usize = 16 << 20;

/// Answers until it is killed.
pub(crate) fn serve() -> ExitCode {
    let served = actix_web::rt::System::new().block_on(async {
        let server = HttpServer::new(|| {
            App::new()
                .app_data(web::PayloadConfig::new(LIMIT))
                .default_service(web::to(async |body: web::Bytes| HttpResponse::Ok().body(body)))
        })
        .workers(WORKERS)
        .bind("127.0.0.1:0")?;
        println!("{}", server.addrs()[0]);
        server.run().await
    });
    served.map_or(ExitCode::FAILURE, |()| ExitCode::SUCCESS)
}

/// The echo in a process of its own, killed when dropped.
pub(crate) struct Echo {
    process: Child,
    address: SocketAddr,
}

impl Echo {
    /// Starts it.
    pub(crate) fn spawn() -> Self {
        let program = std::env::current_exe().expect("this program");
        let mut process = Command::new(program)
            .arg(FLAG)
            .stdout(Stdio::piped())
            .spawn()
            .expect("the echo starts");
        let stdout = process.stdout.take().expect("a piped standard output");
        let mut line = String::new();
        BufReader::new(stdout).read_line(&mut line).expect("its address");
        Self { process, address: line.trim().parse().expect("an address") }
    }

    pub(crate) fn id(&self) -> u32 {
        self.process.id()
    }

    pub(crate) fn address(&self) -> SocketAddr {
        self.address
    }
}

impl Drop for Echo {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}
