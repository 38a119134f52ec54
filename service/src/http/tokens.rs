//! Bearer tokens: 256 random bits, of which only the SHA-256 is kept.
//!
//! # Nothing to time
//!
//! A token is looked up by its digest; the secret itself is compared with
//! nothing, byte by byte or otherwise. What takes longer or shorter with what
//! was sent is a lookup of a hash: to learn anything from it, an attacker would
//! have to choose the digest of what he sends, which means to invert SHA-256.
//! The map is keyed with a random seed of the process besides (std's
//! `HashMap`). Token, expiry and scope are checked on what was found, and none
//! of the answers depends on how near a guess was.
//!
//! # What is known, and since when
//!
//! The guard asks memory, never the disk. Memory is filled when the service
//! starts, and read anew for one plug-in after each change of it, from a
//! snapshot that is taken after the commit, one change after the other: so the
//! last reading sees the last change. What other processes change is read before a
//! request gets here ([`State::keep_up`](super::state::State::keep_up)). If it cannot
//! be read, the tokens of that plug-in open nothing until it can.
//!
//! RFC 6750 is followed for the header and the challenges; a token in a form
//! or in a query is none.

use std::collections::{BTreeSet, HashMap};
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, RwLock};

use actix_web::HttpRequest;
use actix_web::http::header;
use etui_schema::access::Scope;
use etui_schema::problem::ErrorCode;
use etui_schema::vocabulary::Reference;
use jiff::Timestamp;
use uuid::Uuid;

use super::failure::Failure;
use super::limits::Meter;
use crate::store::Store;
use crate::studio::error::Error;
use crate::studio::moment::Mandate;
use crate::studio::plugins::secret::{TokenDigest, digest_of};
use crate::studio::plugins::{self, Known, KnownToken, OWNER, Use};
use crate::studio::{Studio, common};

/// What is known of one token.
#[derive(Debug)]
pub(crate) struct Token {
    caller: Caller,
    expires_at: Option<Timestamp>,
    plugin: Option<OfPlugin>,
}

/// What a plug-in's token has besides.
#[derive(Debug)]
struct OfPlugin {
    meter: Arc<Meter>,
    uses: Arc<Uses>,
}

/// When a token was used last: milliseconds since 1970, 0 for never.
#[derive(Debug, Default)]
struct Uses {
    last: AtomicI64,
    saved: AtomicI64,
}

/// Who calls.
#[derive(Debug, Clone)]
pub(crate) struct Caller {
    /// `owner`, the name of a plug-in, or `anyone` where no token is needed.
    pub(crate) holder: Arc<str>,
    pub(crate) scopes: Arc<[Scope]>,
    /// The plug-in and its token; `None` for the owner.
    pub(crate) plugin: Option<(Uuid, Uuid)>,
    /// The artist that the token acts for.
    pub(crate) acts_for: Option<Reference>,
    /// The artists whose work alone it reaches.
    pub(crate) artists: Option<Arc<[Reference]>>,
    /// The branches whose records alone it reaches.
    pub(crate) branches: Option<Arc<[Reference]>>,
}

impl Caller {
    /// A caller of an open operation.
    pub(crate) fn anyone() -> Self {
        Self::of("anyone", Arc::new([]))
    }

    /// Somebody who is no plug-in.
    fn of(holder: &str, scopes: Arc<[Scope]>) -> Self {
        let (acts_for, artists, branches) = (None, None, None);
        Self { holder: holder.into(), scopes, plugin: None, acts_for, artists, branches }
    }

    /// Whether the caller may use a scope.
    pub(crate) fn allows(&self, scope: Scope) -> bool {
        self.scopes.contains(&scope) || self.scopes.contains(&Scope::Admin)
    }

    /// For whom the caller acts, and how far.
    pub(crate) fn mandate(&self) -> Mandate {
        Mandate {
            acts_for: self.acts_for.clone(),
            artists: self.artists.clone(),
            branches: self.branches.clone(),
            signs: self.allows(Scope::SignOffs),
            is_admin: self.allows(Scope::Admin),
        }
    }
}

impl Token {
    pub(crate) fn caller(&self) -> &Caller {
        &self.caller
    }

    /// The limits of the plug-in; the owner has none.
    pub(crate) fn meter(&self) -> Option<&Meter> {
        self.plugin.as_ref().map(|plugin| &*plugin.meter)
    }
}

/// Every valid token of the studio, held in memory.
#[derive(Debug, Default)]
pub(crate) struct Tokens {
    known: RwLock<HashMap<TokenDigest, Arc<Token>>>,
    /// One reading at a time, so that an older never replaces a newer one.
    turn: tokio::sync::Mutex<()>,
}

impl Tokens {
    /// Makes the owner's token known, and no other one the owner's.
    pub(crate) fn own(&self, digest: TokenDigest) {
        let caller = Caller::of(OWNER, Arc::new([Scope::Admin]));
        let token = Token { caller, expires_at: None, plugin: None };
        if let Ok(mut known) = self.known.write() {
            known.retain(|other, token| *other == digest || token.plugin.is_some());
            known.insert(digest, Arc::new(token));
        }
    }

    /// Reads every plug-in, and what is common to all processes of the owner.
    ///
    /// # Errors
    /// What the store met; then what was known stays.
    pub(crate) async fn load(&self, studio: &Studio) -> Result<(), Error> {
        let _turn = self.turn.lock().await;
        let mut snap = studio.engine.snapshot().await?;
        let all = plugins::known(&mut snap, None).await?;
        if let Some(digest) = common::owner(&mut snap).await? {
            self.own(digest);
        }
        drop(snap);
        for gone in self.plugins().into_iter().filter(|id| all.iter().all(|one| one.id != *id)) {
            self.replace(gone, None);
        }
        for plugin in all {
            self.replace(plugin.id, Some(plugin));
        }
        Ok(())
    }

    /// The plug-ins that have a token.
    fn plugins(&self) -> BTreeSet<Uuid> {
        let Ok(known) = self.known.read() else { return BTreeSet::new() };
        known.values().filter_map(|token| Some(token.caller.plugin?.0)).collect()
    }

    /// Reads one plug-in anew; called after each change of it, whatever came of
    /// the change.
    ///
    /// # Errors
    /// What the store met; then no token of the plug-in opens anything.
    pub(crate) async fn reload(&self, studio: &Studio, id: Uuid) -> Result<(), Error> {
        let _turn = self.turn.lock().await;
        let read = async {
            let mut snap = studio.engine.snapshot().await?;
            plugins::known(&mut snap, Some(id)).await
        };
        let found = read.await;
        let (plugin, done) = match found {
            Ok(mut all) => (all.pop(), Ok(())),
            Err(error) => {
                tracing::error!(plugin = %id, "a plug-in could not be read; its tokens are shut");
                (None, Err(error))
            }
        };
        self.replace(id, plugin);
        done
    }

    /// Puts what is known of a plug-in in place of what was. Its limits and the
    /// last uses of its tokens go on.
    fn replace(&self, id: Uuid, plugin: Option<Known>) {
        let Ok(mut known) = self.known.write() else { return };
        let is_its = |token: &Token| token.caller.plugin.is_some_and(|(plugin, _)| plugin == id);
        let before: HashMap<_, _> = known.extract_if(|_, token| is_its(token)).collect();
        let Some(Known { name, per_minute, per_day, tokens, .. }) = plugin else { return };
        let held = before.values().find_map(|token| token.plugin.as_ref());
        let meter = held.map_or_else(
            || Arc::new(Meter::new(per_minute, per_day)),
            |plugin| plugin.meter.with(per_minute, per_day),
        );
        let holder: Arc<str> = name.into();
        for one in tokens {
            let KnownToken { id: token, digest, scopes, expires_at, acts_for, artists, branches } =
                one;
            let held = before.get(&digest).and_then(|token| token.plugin.as_ref());
            let uses = held.map(|plugin| plugin.uses.clone()).unwrap_or_default();
            let caller = Caller {
                holder: holder.clone(),
                scopes: scopes.into(),
                plugin: Some((id, token)),
                acts_for,
                artists: artists.map(Into::into),
                branches: branches.map(Into::into),
            };
            let plugin = Some(OfPlugin { meter: meter.clone(), uses });
            known.insert(digest, Arc::new(Token { caller, expires_at, plugin }));
        }
    }

    /// Whose token a request carries.
    ///
    /// # Errors
    /// A 401 that says what is wrong with the token, if there is one.
    pub(crate) fn identify(
        &self,
        req: &HttpRequest,
        now: Timestamp,
    ) -> Result<Arc<Token>, Failure> {
        let token = self.find(req)?;
        if token.expires_at.is_some_and(|end| end <= now) {
            return Err(invalid("the token has expired"));
        }
        if let Some(OfPlugin { uses, .. }) = &token.plugin {
            uses.last.fetch_max(now.as_millisecond(), Ordering::Relaxed);
        }
        Ok(token)
    }

    /// Whether the token that a caller came with still opens anything: for
    /// what goes on after the request was let in. The owner's lasts as long as
    /// the service runs.
    pub(crate) fn still_open(&self, caller: &Caller, now: Timestamp) -> bool {
        let Some((_, id)) = caller.plugin else { return true };
        let Ok(known) = self.known.read() else { return false };
        known.values().any(|token| {
            token.caller.plugin.is_some_and(|(_, other)| other == id)
                && token.expires_at.is_none_or(|end| now < end)
        })
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

    /// When a token was used last since the service started.
    pub(crate) fn last_use(&self, id: Uuid) -> Option<Timestamp> {
        let known = self.known.read().ok()?;
        let token =
            known.values().find(|t| t.caller.plugin.is_some_and(|(_, token)| token == id))?;
        let last = token.plugin.as_ref()?.uses.last.load(Ordering::Relaxed);
        if last == 0 { None } else { Timestamp::from_millisecond(last).ok() }
    }

    /// Uses that are not written down yet.
    pub(crate) fn unsaved(&self) -> Vec<Use> {
        let Ok(known) = self.known.read() else { return Vec::new() };
        let unsaved = known.values().filter_map(|held| {
            let (plugin, token) = held.caller.plugin?;
            let Uses { last, saved } = &*held.plugin.as_ref()?.uses;
            let last = last.load(Ordering::Relaxed);
            let at = Timestamp::from_millisecond(last).ok()?;
            (saved.load(Ordering::Relaxed) < last).then_some(Use { plugin, token, at })
        });
        unsaved.collect()
    }

    /// These uses are written down.
    pub(crate) fn saved(&self, written: &[Use]) {
        let Ok(known) = self.known.read() else { return };
        for held in known.values() {
            let (Some((_, token)), Some(plugin)) = (held.caller.plugin, &held.plugin) else {
                continue;
            };
            if let Some(used) = written.iter().find(|used| used.token == token) {
                plugin.uses.saved.fetch_max(used.at.as_millisecond(), Ordering::Relaxed);
            }
        }
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
