//! Bearer tokens: 256 random bits, of which only the SHA-256 is kept.
//!
//! A token is looked up by its digest, so no comparison of the secret itself
//! ever takes place: what an attacker could time is the lookup of a hash that
//! he cannot choose (RFC 6750 for the header and the challenges).

use std::collections::HashMap;
use std::sync::{Arc, RwLock};

use actix_web::HttpRequest;
use actix_web::http::header;
use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use etui_schema::access::Scope;
use etui_schema::problem::ErrorCode;
use jiff::Timestamp;
use sha2::{Digest, Sha256};

use super::call::lacking;
use super::failure::Failure;

/// Every token starts with this, so that leaked ones can be searched for.
pub(crate) const PREFIX: &str = "etui_";

/// SHA-256 of a token.
pub(crate) type TokenDigest = [u8; 32];

/// Makes the text of a token from 32 random bytes.
pub(crate) fn text_of(secret: &[u8; 32]) -> String {
    format!("{PREFIX}{}", BASE64_URL_SAFE_NO_PAD.encode(secret))
}

/// The digest under which a token is known.
pub(crate) fn digest_of(token: &str) -> TokenDigest {
    Sha256::digest(token.as_bytes()).into()
}

/// What is known of one token.
#[derive(Debug, Clone)]
pub(crate) struct Token {
    /// Who holds it: `owner` or the name of a plug-in.
    pub(crate) holder: Arc<str>,
    pub(crate) scopes: Vec<Scope>,
    pub(crate) expires_at: Option<Timestamp>,
}

impl Token {
    fn allows(&self, scope: Scope) -> bool {
        self.scopes.contains(&scope) || self.scopes.contains(&Scope::Admin)
    }
}

/// Who calls.
#[derive(Debug, Clone)]
pub(crate) struct Caller {
    pub(crate) holder: Arc<str>,
    pub(crate) scopes: Arc<[Scope]>,
}

impl Caller {
    /// A caller of an open operation.
    pub(crate) fn anyone() -> Self {
        Self { holder: "anyone".into(), scopes: Arc::new([]) }
    }

    /// Whether the caller may use a scope beyond that of the operation.
    pub(crate) fn allows(&self, scope: Scope) -> bool {
        self.scopes.contains(&scope) || self.scopes.contains(&Scope::Admin)
    }
}

/// Every valid token of the studio, held in memory.
#[derive(Debug, Default)]
pub(crate) struct Tokens {
    known: RwLock<HashMap<TokenDigest, Arc<Token>>>,
}

impl Tokens {
    pub(crate) fn insert(&self, digest: TokenDigest, token: Token) {
        if let Ok(mut known) = self.known.write() {
            known.insert(digest, Arc::new(token));
        }
    }

    /// Lets a request through, or says why not.
    pub(crate) fn admit(
        &self,
        req: &HttpRequest,
        scope: Scope,
        now: Timestamp,
    ) -> Result<Caller, Failure> {
        let token = self.find(req)?;
        if token.expires_at.is_some_and(|end| end <= now) {
            return Err(invalid("the token has expired"));
        }
        if !token.allows(scope) {
            return Err(lacking(scope));
        }
        Ok(Caller { holder: token.holder.clone(), scopes: token.scopes.as_slice().into() })
    }

    fn find(&self, req: &HttpRequest) -> Result<Arc<Token>, Failure> {
        let mut sent = req.headers().get_all(header::AUTHORIZATION);
        let Some(value) = sent.next() else { return Err(missing()) };
        if sent.next().is_some() {
            return Err(invalid("more than one Authorization header was sent"));
        }
        let text = value.to_str().map_err(|_| invalid("the token is not ASCII"))?;
        let (scheme, token) = text.split_once(' ').unwrap_or((text, ""));
        if !scheme.eq_ignore_ascii_case("bearer") {
            return Err(missing());
        }
        let known =
            self.known.read().map_err(|_| Failure::new(ErrorCode::Internal, "internal error"))?;
        known
            .get(&digest_of(token.trim()))
            .cloned()
            .ok_or_else(|| invalid("the token is not known here"))
    }
}

fn missing() -> Failure {
    Failure::new(
        ErrorCode::MissingToken,
        "send `Authorization: Bearer` with a token of this studio",
    )
    .with_header(header::WWW_AUTHENTICATE, "Bearer realm=\"etui\"")
}

fn invalid(why: &str) -> Failure {
    Failure::new(ErrorCode::InvalidToken, why)
        .with_header(header::WWW_AUTHENTICATE, "Bearer realm=\"etui\", error=\"invalid_token\"")
}
