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

#[cfg(test)]
mod tests {
    use tokio::net::TcpListener;
    use tokio_rustls::TlsAcceptor;
    use tokio_rustls::rustls::ServerConfig;
    use tokio_rustls::rustls::pki_types::pem::PemObject;
    use tokio_rustls::rustls::pki_types::{CertificateDer, PrivateKeyDer};

    use super::*;

    // A certificate for `localhost` and the root that signed it, both made for this test alone.
    const ROOT: &[u8] = include_bytes!("test_tls/ca.pem");
    const LEAF: &[u8] = include_bytes!("test_tls/leaf.pem");
    const KEY: &[u8] = include_bytes!("test_tls/leaf.key.pem");

    async fn connects(tls: &Tls, name: &str) -> bool {
        let config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
            .with_safe_default_protocol_versions()
            .unwrap()
            .with_no_client_auth()
            .with_single_cert(
                vec![CertificateDer::from_pem_slice(LEAF).unwrap()],
                PrivateKeyDer::from_pem_slice(KEY).unwrap(),
            )
            .unwrap();
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        let acceptor = TlsAcceptor::from(Arc::new(config));
        tokio::spawn(async move {
            let (stream, _) = listener.accept().await.unwrap();
            drop(acceptor.accept(stream).await);
        });
        let stream = TcpStream::connect(address).await.unwrap();
        tls.connect(name, stream).await.is_ok()
    }

    #[tokio::test]
    async fn only_a_certificate_of_a_trusted_root_for_this_very_name_is_good() {
        let mut roots = RootCertStore::empty();
        roots.add(CertificateDer::from_pem_slice(ROOT).unwrap()).unwrap();
        let trusting = Tls::trusting(roots);
        assert!(connects(&trusting, "localhost").await);
        assert!(!connects(&trusting, "hooks.example").await, "another name");
        assert!(!connects(&trusting, "127.0.0.1").await, "a number that it does not name");
        assert!(!connects(&Tls::of_the_web(), "localhost").await, "a root of nobody's");
    }
}
