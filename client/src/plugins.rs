//! Plug-ins and their tokens.

use etui_schema::page::{Page, PageQuery};
use etui_schema::plugins::{
    Identity, Plugin, PluginAct, PluginRequest, PluginToken, PluginTokenRequest,
    TokenRotationRequest,
};
use reqwest::Method;
use uuid::Uuid;

use crate::builder::Client;
use crate::error::Error;
use crate::pages::Pages;
use crate::tagged::Tagged;

/// Programs of the studio, each with its own tokens, scopes and limits.
///
/// ```no_run
/// # async fn run(owner: etui_client::Client) -> Result<(), Box<dyn std::error::Error>> {
/// use etui_schema::access::Scope;
/// use etui_schema::plugins::{PluginRequest, PluginTokenRequest};
///
/// let booking = PluginRequest {
///     name: "booking".parse()?,
///     description: None,
///     scopes: vec![Scope::Compute, Scope::ClientsRead],
///     allow_admin: None,
///     requests_per_minute: Some(600),
///     requests_per_day: None,
///     artists: None,
/// };
/// let booking = owner.register_plugin(&booking).await?;
/// let token = PluginTokenRequest {
///     name: "front-desk".parse()?,
///     scopes: None,
///     expires_at: None,
///     acts_for: None,
///     artists: None,
/// };
/// let token = owner.issue_plugin_token(booking.id, &token).await?;
/// println!("keep this: {}", token.secret.unwrap_or_default());
/// # Ok(())
/// # }
/// ```
impl Client {
    /// `GET /v1/plugins/me`: whose token this client holds.
    ///
    /// # Errors
    /// [`Error::Problem`] with 401 if the token opens nothing.
    pub async fn get_me(&self) -> Result<Identity, Error> {
        self.get(&["v1", "plugins", "me"]).read().await
    }

    /// `POST /v1/plugins`: registers a plug-in.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 409 if the name is taken.
    pub async fn register_plugin(&self, request: &PluginRequest) -> Result<Plugin, Error> {
        self.post(&["v1", "plugins"]).json(request)?.once().read().await
    }

    /// `GET /v1/plugins`: one page of the plug-ins, first registered first.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 400 for a cursor that is not ours.
    pub async fn list_plugins(&self, query: &PageQuery) -> Result<Page<Plugin>, Error> {
        let PageQuery { limit, cursor } = query;
        self.get(&["v1", "plugins"])
            .query_if("limit", limit.as_ref())
            .query_if("cursor", cursor.as_ref())
            .read()
            .await
    }

    /// Every plug-in, first registered first.
    #[must_use]
    pub fn plugins(&self) -> Pages<Plugin> {
        Pages::new(self, &["v1", "plugins"], Vec::new())
    }

    /// `GET /v1/plugins/{id}`: reads a plug-in.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none or it was removed.
    pub async fn get_plugin(&self, id: Uuid) -> Result<Tagged<Plugin>, Error> {
        self.get(&["v1", "plugins", &id.to_string()]).read_tagged().await
    }

    /// `PATCH /v1/plugins/{id}`: changes what a plug-in is for, its scopes and its
    /// limits, in the version that was read. The patch is one of RFC 7396.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 412 if it changed since.
    pub async fn patch_plugin(
        &self,
        id: Uuid,
        patch: &serde_json::Value,
        etag: &str,
    ) -> Result<Tagged<Plugin>, Error> {
        self.request(Method::PATCH, &["v1", "plugins", &id.to_string()])
            .merging(patch)?
            .if_match(Some(etag))?
            .read_tagged()
            .await
    }

    /// `DELETE /v1/plugins/{id}`: removes a plug-in; its tokens open nothing
    /// from then on.
    ///
    /// # Errors
    /// [`Error::Problem`] with 404 if there is none.
    pub async fn remove_plugin(&self, id: Uuid) -> Result<Plugin, Error> {
        self.request(Method::DELETE, &["v1", "plugins", &id.to_string()]).read().await
    }

    /// `GET /v1/plugins/{id}/activity`: one page of what a plug-in did, newest
    /// first. A page can be empty and still have a next one.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there never was such a plug-in.
    pub async fn list_plugin_activity(
        &self,
        id: Uuid,
        query: &PageQuery,
    ) -> Result<Page<PluginAct>, Error> {
        let PageQuery { limit, cursor } = query;
        self.get(&["v1", "plugins", &id.to_string(), "activity"])
            .query_if("limit", limit.as_ref())
            .query_if("cursor", cursor.as_ref())
            .read()
            .await
    }

    /// Everything that a plug-in did, newest first.
    #[must_use]
    pub fn plugin_activity(&self, id: Uuid) -> Pages<PluginAct> {
        Pages::new(self, &["v1", "plugins", &id.to_string(), "activity"], Vec::new())
    }

    /// `POST /v1/plugins/{id}/tokens`: makes a token.
    ///
    /// The answer has the `secret` unless an earlier attempt of the same
    /// request was carried out and its answer lost; then rotate the token
    /// without overlap, or revoke it.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 for a scope that the plug-in does
    /// not hold.
    pub async fn issue_plugin_token(
        &self,
        id: Uuid,
        request: &PluginTokenRequest,
    ) -> Result<PluginToken, Error> {
        let path = ["v1", "plugins", &id.to_string(), "tokens"];
        self.post(&path).json(request)?.once().read().await
    }

    /// `GET /v1/plugins/{id}/tokens`: one page of the tokens of a plug-in, without their
    /// secrets.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is no such plug-in.
    pub async fn list_plugin_tokens(
        &self,
        id: Uuid,
        query: &PageQuery,
    ) -> Result<Page<PluginToken>, Error> {
        let PageQuery { limit, cursor } = query;
        self.get(&["v1", "plugins", &id.to_string(), "tokens"])
            .query_if("limit", limit.as_ref())
            .query_if("cursor", cursor.as_ref())
            .read()
            .await
    }

    /// `GET /v1/plugins/{id}/tokens/{token_id}`: one of them.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is no such token.
    pub async fn get_plugin_token(&self, id: Uuid, token_id: Uuid) -> Result<PluginToken, Error> {
        self.get(&["v1", "plugins", &id.to_string(), "tokens", &token_id.to_string()]).read().await
    }

    /// `DELETE /v1/plugins/{id}/tokens/{token_id}`: takes a token back.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is no such token.
    pub async fn revoke_plugin_token(
        &self,
        id: Uuid,
        token_id: Uuid,
    ) -> Result<PluginToken, Error> {
        let path = ["v1", "plugins", &id.to_string(), "tokens", &token_id.to_string()];
        self.request(Method::DELETE, &path).read().await
    }

    /// `POST /v1/plugins/{id}/tokens/{token_id}/rotations`: exchanges a token
    /// for a new one. As for [`Client::issue_plugin_token`], the `secret` is
    /// in the first answer only.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 409 if the token opens nothing any more.
    pub async fn rotate_plugin_token(
        &self,
        id: Uuid,
        token_id: Uuid,
        request: &TokenRotationRequest,
    ) -> Result<PluginToken, Error> {
        let (id, token_id) = (id.to_string(), token_id.to_string());
        let path = ["v1", "plugins", &id, "tokens", &token_id, "rotations"];
        self.post(&path).json(request)?.once().read().await
    }
}
