//! Which host names and origins are served.
//!
//! A page on the open web can make a browser call a service on the same
//! machine under a name that resolves to it (DNS rebinding). Such a call
//! carries the foreign name in `Host`, so only known names are served.

/// The allowed names.
#[derive(Debug, Clone, Default)]
pub(crate) struct Hosts {
    names: Vec<String>,
    origins: Vec<String>,
}

impl Hosts {
    /// Loopback names are always served; `names` and `origins` are added.
    pub(crate) fn new(names: &[String], origins: &[String]) -> Self {
        let mut all = vec!["127.0.0.1".to_owned(), "localhost".to_owned(), "[::1]".to_owned()];
        all.extend(names.iter().map(|name| name.to_ascii_lowercase()));
        Self { names: all, origins: origins.iter().map(|o| o.to_ascii_lowercase()).collect() }
    }

    /// Whether a `Host` header without its port can be this name (RFC 3986, 3.2.2).
    pub(crate) fn can_be_host(name: &str) -> bool {
        let plain = |b: u8| b.is_ascii_alphanumeric() || b"-._~".contains(&b);
        let literal = name.strip_prefix('[').and_then(|name| name.strip_suffix(']'));
        match literal {
            Some(address) => address.parse::<std::net::Ipv6Addr>().is_ok(),
            None => !name.is_empty() && name.bytes().all(plain),
        }
    }

    /// Whether an `Origin` header can say this (RFC 6454, 6.2): scheme, host and perhaps a port.
    pub(crate) fn can_be_origin(origin: &str) -> bool {
        let Some((scheme, host)) = origin.split_once("://") else { return origin == "null" };
        let is_scheme = scheme.bytes().all(|b| b.is_ascii_alphanumeric() || b"+-.".contains(&b));
        !scheme.is_empty() && is_scheme && Self::can_be_host(without_port(host))
    }

    /// Whether a `Host` header is one of ours, whatever its port.
    pub(crate) fn allows(&self, host: &str) -> bool {
        let name = without_port(host).to_ascii_lowercase();
        self.names.contains(&name)
    }

    /// Whether pages of other origins may call at all.
    pub(crate) fn lists_origins(&self) -> bool {
        !self.origins.is_empty()
    }

    /// Whether a page of this origin may call: our own pages, and listed ones.
    pub(crate) fn allows_origin(&self, origin: &str) -> bool {
        let origin = origin.to_ascii_lowercase();
        if self.origins.contains(&origin) {
            return true;
        }
        origin
            .strip_prefix("http://")
            .or_else(|| origin.strip_prefix("https://"))
            .is_some_and(|host| self.allows(host))
    }
}

fn without_port(host: &str) -> &str {
    match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|b| b.is_ascii_digit()) && !name.ends_with(':') => {
            name
        }
        _ => host,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_known_names_are_served() {
        let hosts =
            Hosts::new(&["studio.example".to_owned()], &["https://booking.example".to_owned()]);
        for (host, want) in [
            ("127.0.0.1:8417", true),
            ("localhost", true),
            ("LOCALHOST:1", true),
            ("[::1]:8417", true),
            ("[::1]", true),
            ("studio.example:443", true),
            ("evil.example", false),
            ("127.0.0.1.evil.example", false),
            ("localhost.evil.example:8417", false),
            ("", false),
        ] {
            assert_eq!(hosts.allows(host), want, "{host}");
        }
        assert!(hosts.allows_origin("https://booking.example"));
        assert!(hosts.allows_origin("http://localhost:3000"));
        assert!(!hosts.allows_origin("https://evil.example"));
        assert!(!hosts.allows_origin("null"));
    }
}
