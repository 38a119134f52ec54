//! The client and its settings.

use std::fmt;
use std::sync::Arc;
use std::time::Duration;

use etui_schema::vocabulary::Language;
use reqwest::Url;
use reqwest::header::HeaderValue;

use crate::error::{Error, TransportError};
use crate::retry::Retries;

/// A client of one etui service. Clones are cheap and share connections.
#[derive(Debug, Clone)]
pub struct Client {
    pub(crate) shared: Arc<Shared>,
    /// The caller's own key for POSTs that write.
    pub(crate) key: Option<HeaderValue>,
}

/// What all clones of a client share.
pub(crate) struct Shared {
    pub(crate) http: reqwest::Client,
    pub(crate) base: Url,
    pub(crate) authorization: Option<HeaderValue>,
    pub(crate) language: Option<Language>,
    pub(crate) retries: Retries,
}

impl fmt::Debug for Shared {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Shared")
            .field("base", &self.base.as_str())
            .field("retries", &self.retries)
            .finish_non_exhaustive()
    }
}

impl Client {
    /// Settings for a client of the service at an address such as
    /// `http://127.0.0.1:8417`.
    #[must_use]
    pub fn builder(base_url: impl Into<String>) -> Builder {
        Builder {
            base_url: base_url.into(),
            token: None,
            language: None,
            timeout: Duration::from_secs(30),
            retries: Retries::default(),
        }
    }

    /// This client with a key of the caller's own for the next POST that
    /// writes: the same key and body give the same answer for 24 hours, so a
    /// program that crashed may repeat what it does not know to have been done.
    ///
    /// The key belongs to one request. Another body under the same key is
    /// refused.
    ///
    /// # Errors
    /// [`Error::Unusable`] if the key is not 1 to 128 visible ASCII characters
    /// without quotes and backslashes.
    ///
    /// ```
    /// # fn main() -> Result<(), etui_client::Error> {
    /// let client = etui_client::Client::builder("http://127.0.0.1:8417").build()?;
    /// assert!(client.with_key("booking-2026-0042").is_ok());
    /// assert!(client.with_key("two words").is_err());
    /// # Ok(())
    /// # }
    /// ```
    pub fn with_key(&self, key: &str) -> Result<Self, Error> {
        let sound = (1..=128).contains(&key.len())
            && key.bytes().all(|b| b.is_ascii_graphic() && b != b'"' && b != b'\\');
        let value = sound.then(|| HeaderValue::from_str(&format!("\"{key}\"")).ok()).flatten();
        match value {
            Some(value) => Ok(Self { shared: self.shared.clone(), key: Some(value) }),
            None => Err(Error::Unusable(
                "an idempotency key is 1 to 128 visible ASCII characters without quotes and backslashes"
                    .to_owned(),
            )),
        }
    }
}

/// Settings of a [`Client`].
#[derive(Clone)]
pub struct Builder {
    base_url: String,
    token: Option<String>,
    language: Option<Language>,
    timeout: Duration,
    retries: Retries,
}

impl fmt::Debug for Builder {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Builder")
            .field("base_url", &self.base_url)
            .field("token", &self.token.as_ref().map(|_| "…"))
            .field("language", &self.language)
            .field("timeout", &self.timeout)
            .field("retries", &self.retries)
            .finish()
    }
}

impl Builder {
    /// The bearer token; without one only open operations answer.
    #[must_use]
    pub fn token(mut self, token: impl Into<String>) -> Self {
        self.token = Some(token.into());
        self
    }

    /// The language of the texts in answers; English if none is set.
    #[must_use]
    pub fn language(mut self, language: Language) -> Self {
        self.language = Some(language);
        self
    }

    /// How long one attempt may take, answer included (30 s unless set).
    #[must_use]
    pub fn timeout(mut self, timeout: Duration) -> Self {
        self.timeout = timeout;
        self
    }

    /// How often and how long to try again.
    #[must_use]
    pub fn retries(mut self, retries: Retries) -> Self {
        self.retries = retries;
        self
    }

    /// Makes the client. Nothing is sent yet.
    ///
    /// # Errors
    /// [`Error::Unusable`] for an address that is not `http://…` (or, with one
    /// of the TLS features, `https://…`), or for a token that no header can carry.
    ///
    /// ```
    /// use etui_client::Client;
    /// assert!(Client::builder("http://127.0.0.1:8417").build().is_ok());
    /// assert!(Client::builder("127.0.0.1:8417").build().is_err());
    /// ```
    pub fn build(self) -> Result<Client, Error> {
        let base = base_of(&self.base_url)?;
        let authorization = self.token.as_deref().map(bearer).transpose()?;
        let mut http = reqwest::Client::builder()
            .timeout(self.timeout)
            .connect_timeout(self.timeout.min(Duration::from_secs(5)))
            // Shorter than the service keeps idle connections, so that none is
            // reused in the moment in which it is closed.
            .pool_idle_timeout(Duration::from_secs(60))
            .redirect(reqwest::redirect::Policy::none())
            .user_agent(concat!("etui-client/", env!("CARGO_PKG_VERSION")));
        if is_loopback(&base) {
            // A proxy set for the outside world cannot reach this machine's own ports.
            http = http.no_proxy();
        }
        let http = http.build().map_err(|e| Error::Transport(TransportError::new(e)))?;
        let shared =
            Shared { http, base, authorization, language: self.language, retries: self.retries };
        Ok(Client { shared: Arc::new(shared), key: None })
    }
}

fn base_of(text: &str) -> Result<Url, Error> {
    let unusable = |why: &str| Error::Unusable(format!("`{text}` {why}"));
    let mut base =
        Url::parse(text).map_err(|_| unusable("is no address such as http://127.0.0.1:8417"))?;
    match base.scheme() {
        "http" => {}
        "https" if cfg!(any(feature = "rustls", feature = "native-tls")) => {}
        "https" => {
            return Err(unusable("needs the feature `rustls` or `native-tls` of this crate"));
        }
        _ => return Err(unusable("does not start with http:// or https://")),
    }
    if base.query().is_some() || base.fragment().is_some() || !base.username().is_empty() {
        return Err(unusable("has more than scheme, host, port and path"));
    }
    if !base.path().ends_with('/') {
        base.set_path(&format!("{}/", base.path()));
    }
    Ok(base)
}

fn bearer(token: &str) -> Result<HeaderValue, Error> {
    let sound = !token.is_empty() && token.bytes().all(|b| b.is_ascii_graphic());
    match HeaderValue::from_str(&format!("Bearer {token}")) {
        Ok(mut value) if sound => {
            value.set_sensitive(true);
            Ok(value)
        }
        _ => Err(Error::Unusable("a token is visible ASCII characters without spaces".to_owned())),
    }
}

fn is_loopback(base: &Url) -> bool {
    match base.host_str() {
        Some("localhost" | "[::1]") => true,
        Some(host) => host.parse::<std::net::Ipv4Addr>().is_ok_and(|ip| ip.is_loopback()),
        None => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_is_scheme_host_port_and_path() {
        for (text, want) in [
            ("http://127.0.0.1:8417", Some("http://127.0.0.1:8417/")),
            ("http://localhost:8417/etui", Some("http://localhost:8417/etui/")),
            ("http://localhost:8417/etui/", Some("http://localhost:8417/etui/")),
            ("http://[::1]:8417", Some("http://[::1]:8417/")),
            ("ftp://localhost", None),
            ("localhost:8417", None),
            ("", None),
            ("http://localhost/?a=b", None),
            ("http://user@localhost/", None),
        ] {
            let got = base_of(text).ok();
            assert_eq!(got.as_ref().map(Url::as_str), want, "{text}");
        }
    }

    #[test]
    fn a_secret_is_not_printed() {
        let builder = Client::builder("http://127.0.0.1:8417").token("etui_secret");
        assert!(!format!("{builder:?}").contains("etui_secret"));
        let client = builder.build().expect("a sound setting");
        assert!(!format!("{client:?}").contains("etui_secret"));
        assert!(Client::builder("http://127.0.0.1:8417").token("two words").build().is_err());
    }
}
