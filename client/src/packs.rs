//! Packs: what a studio adds to the built-in data.

use etui_schema::packs::{
    AftercarePack, KeptPack, LabelSpellingsPack, PackDryRun, PackDryRunRequest, PackQuery, PackRow,
    RulesPack,
};
use etui_schema::page::Page;
use etui_schema::vocabulary::Reference;
use reqwest::Method;
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::builder::Client;
use crate::error::Error;
use crate::pages::Pages;
use crate::tagged::Tagged;

const PATH: [&str; 2] = ["v1", "packs"];

/// Packs. A PUT creates one; to replace one that exists it needs the `etag`
/// under which it was read.
///
/// ```no_run
/// # async fn run(client: etui_client::Client) -> Result<(), Box<dyn std::error::Error>> {
/// use etui_schema::packs::{PackDryRunRequest, RulesPack};
/// let pack: RulesPack = serde_json::from_value(serde_json::json!({
///     "tighten": [{ "rule": "isotretinoin_recent", "period": "P12M" }],
/// }))?;
/// let name = "house".parse()?;
/// let ask = PackDryRunRequest { pack: Some(pack.clone()), ..PackDryRunRequest::default() };
/// for change in client.dry_run_rules_pack(&name, &ask).await?.changes {
///     println!("{}: {} becomes {}", change.booking_ref, change.from, change.to);
/// }
/// client.put_rules_pack(&name, &pack, None).await?;
/// # Ok(())
/// # }
/// ```
impl Client {
    async fn put_pack<P: Serialize + DeserializeOwned>(
        &self,
        kind: &str,
        name: &Reference,
        pack: &P,
        if_match: Option<&str>,
    ) -> Result<Tagged<KeptPack<P>>, Error> {
        self.put(&[PATH[0], PATH[1], kind, name.as_str()])
            .json(pack)?
            .if_match(if_match)?
            .read_tagged()
            .await
    }

    async fn get_pack<P: DeserializeOwned>(
        &self,
        kind: &str,
        name: &Reference,
    ) -> Result<Tagged<KeptPack<P>>, Error> {
        self.get(&[PATH[0], PATH[1], kind, name.as_str()]).read_tagged().await
    }

    async fn delete_pack<P: DeserializeOwned>(
        &self,
        kind: &str,
        name: &Reference,
        if_match: Option<&str>,
    ) -> Result<KeptPack<P>, Error> {
        self.request(Method::DELETE, &[PATH[0], PATH[1], kind, name.as_str()])
            .if_match(if_match)?
            .read()
            .await
    }

    /// `GET /v1/packs`: one page of packs, by kind and name.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 400 for a cursor that is not ours.
    pub async fn list_packs(&self, query: &PackQuery) -> Result<Page<PackRow>, Error> {
        let PackQuery { kind, limit, cursor } = query;
        self.get(&PATH)
            .query_if("kind", kind.as_ref())
            .query_if("limit", limit.as_ref())
            .query_if("cursor", cursor.as_ref())
            .read()
            .await
    }

    /// Every pack, by kind and name.
    #[must_use]
    pub fn packs(&self) -> Pages<PackRow> {
        Pages::new(self, &PATH, Vec::new())
    }

    /// `POST /v1/packs/rules/{pack}/dry-runs`: what a rules pack would change
    /// on the stored checks. Nothing is written.
    ///
    /// # Errors
    /// [`Error::Problem`]: whatever putting it would be refused with, and 404 if
    /// no pack was sent and none is kept under the name.
    pub async fn dry_run_rules_pack(
        &self,
        name: &Reference,
        request: &PackDryRunRequest,
    ) -> Result<PackDryRun, Error> {
        self.post(&[PATH[0], PATH[1], "rules", name.as_str(), "dry-runs"])
            .json(request)?
            .read()
            .await
    }

    /// `PUT /v1/packs/rules/{pack}`: keeps a pack and applies it if it is enabled.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 with every fault of the pack, 409 if
    /// another pack would no longer be sound, 428 if it exists and `if_match` is
    /// absent.
    pub async fn put_rules_pack(
        &self,
        name: &Reference,
        pack: &RulesPack,
        if_match: Option<&str>,
    ) -> Result<Tagged<KeptPack<RulesPack>>, Error> {
        self.put_pack("rules", name, pack, if_match).await
    }

    /// `GET /v1/packs/rules/{pack}`: reads a pack as it was put.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none.
    pub async fn get_rules_pack(
        &self,
        name: &Reference,
    ) -> Result<Tagged<KeptPack<RulesPack>>, Error> {
        self.get_pack("rules", name).await
    }

    /// `DELETE /v1/packs/rules/{pack}`: takes a pack away and answers with what
    /// it was.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 409 if another pack needs it.
    pub async fn delete_rules_pack(
        &self,
        name: &Reference,
        if_match: Option<&str>,
    ) -> Result<KeptPack<RulesPack>, Error> {
        self.delete_pack("rules", name, if_match).await
    }

    /// `PUT /v1/packs/label-spellings/{pack}`: keeps a pack and applies it if it is enabled.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 with every fault of the pack, 409 if
    /// another pack would no longer be sound, 428 if it exists and `if_match` is
    /// absent.
    pub async fn put_label_spellings_pack(
        &self,
        name: &Reference,
        pack: &LabelSpellingsPack,
        if_match: Option<&str>,
    ) -> Result<Tagged<KeptPack<LabelSpellingsPack>>, Error> {
        self.put_pack("label-spellings", name, pack, if_match).await
    }

    /// `GET /v1/packs/label-spellings/{pack}`: reads a pack as it was put.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none.
    pub async fn get_label_spellings_pack(
        &self,
        name: &Reference,
    ) -> Result<Tagged<KeptPack<LabelSpellingsPack>>, Error> {
        self.get_pack("label-spellings", name).await
    }

    /// `DELETE /v1/packs/label-spellings/{pack}`: takes a pack away and answers with what
    /// it was.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 409 if another pack needs it.
    pub async fn delete_label_spellings_pack(
        &self,
        name: &Reference,
        if_match: Option<&str>,
    ) -> Result<KeptPack<LabelSpellingsPack>, Error> {
        self.delete_pack("label-spellings", name, if_match).await
    }

    /// `PUT /v1/packs/aftercare/{pack}`: keeps a pack and applies it if it is enabled.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 422 with every fault of the pack, 409 if
    /// another pack would no longer be sound, 428 if it exists and `if_match` is
    /// absent.
    pub async fn put_aftercare_pack(
        &self,
        name: &Reference,
        pack: &AftercarePack,
        if_match: Option<&str>,
    ) -> Result<Tagged<KeptPack<AftercarePack>>, Error> {
        self.put_pack("aftercare", name, pack, if_match).await
    }

    /// `GET /v1/packs/aftercare/{pack}`: reads a pack as it was put.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none.
    pub async fn get_aftercare_pack(
        &self,
        name: &Reference,
    ) -> Result<Tagged<KeptPack<AftercarePack>>, Error> {
        self.get_pack("aftercare", name).await
    }

    /// `DELETE /v1/packs/aftercare/{pack}`: takes a pack away and answers with what
    /// it was.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 409 if another pack needs it.
    pub async fn delete_aftercare_pack(
        &self,
        name: &Reference,
        if_match: Option<&str>,
    ) -> Result<KeptPack<AftercarePack>, Error> {
        self.delete_pack("aftercare", name, if_match).await
    }
}
