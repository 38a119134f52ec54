//! TLS towards receivers: rustls, and the roots that browsers trust, compiled
//! in, so that nothing of the machine's is needed.

use std::fmt;
use std::io;
use std::sync::Arc;

use tokio::net::TcpStream;
use tokio_rustls::TlsConnector;
use tokio_rustls::client::TlsStream;
use tokio_rustls::rustls::pki_types::ServerName;
use tokio_rustls::rustls::{ClientConfig, RootCertStore, crypto::ring};

/// What connections are secured with.
#[derive(Clone)]
pub(super) struct Tls(Option<TlsConnector>);

impl fmt::Debug for Tls {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Tls")
    }
}

impl Tls {
    /// Trusts the roots of the open web.
    pub(super) fn of_the_web() -> Self {
        Self::trusting(RootCertStore { roots: webpki_roots::TLS_SERVER_ROOTS.to_vec() })
    }

    /// Trusts these roots.
    pub(super) fn trusting(roots: RootCertStore) -> Self {
        // The provider is named, so that nothing depends on what else the program links.
        let config = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()
            .map(|config| config.with_root_certificates(roots).with_no_client_auth());
        Self(config.ok().map(|config| TlsConnector::from(Arc::new(config))))
    }

    /// Secures a connection to a host, whose certificate must name it.
    pub(super) async fn connect(
        &self,
        host: &str,
        stream: TcpStream,
    ) -> io::Result<TlsStream<TcpStream>> {
        let name = ServerName::try_from(host.to_owned()).map_err(io::Error::other)?;
        let connector = self.0.as_ref().ok_or_else(|| io::Error::other("no TLS to be had"))?;
        connector.connect(name, stream).await
    }
}
