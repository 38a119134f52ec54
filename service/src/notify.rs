//! Telling systemd how it goes (`sd_notify(3)`), where it started us and wants to know.
//!
//! A few bytes to a socket of the machine; without `NOTIFY_SOCKET` nothing is sent.

use std::ffi::OsStr;
use std::os::linux::net::SocketAddrExt;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::net::{SocketAddr, UnixDatagram};
use std::time::Duration;

/// Where to tell, and how often it wants to hear.
#[derive(Debug)]
pub(crate) struct Notifier {
    socket: UnixDatagram,
    to: SocketAddr,
    /// How often to say that all is well, if that is watched: half of what is waited for.
    pub(crate) every: Option<Duration>,
}

impl Notifier {
    /// Out of the environment; `None` if nobody wants to know.
    pub(crate) fn from_environment() -> Option<Self> {
        let name = std::env::var_os("NOTIFY_SOCKET")?;
        let ours = match std::env::var("WATCHDOG_PID") {
            Ok(pid) => pid.parse() == Ok(std::process::id()),
            Err(_) => true,
        };
        let watched = std::env::var("WATCHDOG_USEC").ok().filter(|_| ours);
        Self::to(&name, watched.as_deref())
    }

    fn to(name: &OsStr, watched: Option<&str>) -> Option<Self> {
        let to = match name.as_bytes() {
            [b'@', name @ ..] => SocketAddr::from_abstract_name(name),
            _ => SocketAddr::from_pathname(name),
        };
        let micros = watched.and_then(|micros| micros.parse::<u64>().ok()).filter(|m| 0 < *m);
        let every = micros.map(|micros| Duration::from_micros(micros) / 2);
        Some(Self { socket: UnixDatagram::unbound().ok()?, to: to.ok()?, every })
    }

    /// It answers from now on.
    pub(crate) fn ready(&self, address: &str) {
        self.tell(&format!("READY=1\nSTATUS=listening on {address}\n"));
    }

    /// All is well.
    pub(crate) fn alive(&self) {
        self.tell("WATCHDOG=1\n");
    }

    /// It ends in order.
    pub(crate) fn stopping(&self) {
        self.tell("STOPPING=1\n");
    }

    /// What cannot be told is not told: nothing depends on it here.
    fn tell(&self, state: &str) {
        if let Err(error) = self.socket.send_to_addr(state.as_bytes(), &self.to) {
            tracing::debug!(reason = %error, "systemd was not told");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_told_arrives() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("notify");
        let there = UnixDatagram::bind(&path).unwrap();
        let notifier = Notifier::to(path.as_os_str(), Some("30000000")).unwrap();
        assert_eq!(notifier.every, Some(Duration::from_secs(15)));
        notifier.ready("127.0.0.1:8417");
        notifier.alive();
        notifier.stopping();
        for want in
            ["READY=1\nSTATUS=listening on 127.0.0.1:8417\n", "WATCHDOG=1\n", "STOPPING=1\n"]
        {
            let mut heard = [0; 100];
            let length = there.recv(&mut heard).unwrap();
            assert_eq!(std::str::from_utf8(&heard[..length]), Ok(want));
        }
        for watched in [None, Some("0"), Some("soon")] {
            let notifier = Notifier::to(path.as_os_str(), watched).unwrap();
            assert_eq!(notifier.every, None, "{watched:?}");
        }
        drop(there);
        notifier.alive(); // nobody hears it, and nothing comes of that
        let abstract_name = format!("@etui-test-{}", std::process::id());
        assert!(Notifier::to(OsStr::new(&abstract_name), None).is_some());
    }
}
