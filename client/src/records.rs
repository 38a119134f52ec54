//! The studio's memory of clients, artists and machines.

use etui_schema::artists::{Artist, ArtistRecord};
use etui_schema::clients::{Client as StoredClient, ClientRecord, ClientRow, ErasureReceipt};
use etui_schema::dossiers::Dossier;
use etui_schema::hand_profiles::HandProfile;
use etui_schema::machines::{MachineAsStored, MachineRecord};
use etui_schema::page::{Page, PageQuery};
use etui_schema::vocabulary::Reference;
use reqwest::Method;

use crate::builder::Client;
use crate::error::Error;
use crate::tagged::Tagged;

/// Records under the caller's own references.
///
/// A PUT creates the record; to replace one that exists it needs the `etag`
/// under which it was read.
///
/// ```no_run
/// # async fn run(client: etui_client::Client) -> Result<(), Box<dyn std::error::Error>> {
/// use etui_schema::machines::MachineRecord;
/// use etui_schema::vocabulary::Give;
///
/// let machine = "liner-1".parse()?;
/// let record = MachineRecord::new(3.5, 110.0, Give::Medium);
/// let kept = client.put_machine(&machine, &record, None).await?;
/// let slower = MachineRecord { rate_hz: 90.0, ..record };
/// client.put_machine(&machine, &slower, Some(&kept.etag)).await?;
/// # Ok(())
/// # }
/// ```
impl Client {
    /// `PUT /v1/clients/{client_ref}`: keeps a client.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 428 if the client exists and
    /// `if_match` is absent, and 412 if somebody else has changed it.
    pub async fn put_client(
        &self,
        client_ref: &Reference,
        record: &ClientRecord,
        if_match: Option<&str>,
    ) -> Result<Tagged<StoredClient>, Error> {
        self.put(&["v1", "clients", client_ref.as_str()])
            .json(record)?
            .if_match(if_match)?
            .read_tagged()
            .await
    }

    /// `GET /v1/clients/{client_ref}`: reads a client.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none or it was erased.
    pub async fn get_client(&self, client_ref: &Reference) -> Result<Tagged<StoredClient>, Error> {
        self.get(&["v1", "clients", client_ref.as_str()]).read_tagged().await
    }

    /// `GET /v1/clients`: one page of every client.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 400 for a cursor that is not ours.
    pub async fn list_clients(&self, query: &PageQuery) -> Result<Page<ClientRow>, Error> {
        self.get(&["v1", "clients"]).query_of(query)?.read().await
    }

    /// `PATCH /v1/clients/{client_ref}`: changes some of a client by a JSON Merge Patch (RFC 7396).
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none, and 412 if somebody
    /// else has changed it.
    pub async fn patch_client(
        &self,
        client_ref: &Reference,
        patch: &serde_json::Value,
        etag: &str,
    ) -> Result<Tagged<StoredClient>, Error> {
        self.request(Method::PATCH, &["v1", "clients", client_ref.as_str()])
            .merging(patch)?
            .if_match(Some(etag))?
            .read_tagged()
            .await
    }

    /// `GET /v1/clients/{client_ref}/dossier`: everything that is held on a
    /// client.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if nothing is held or it was erased.
    pub async fn get_dossier(&self, client_ref: &Reference) -> Result<Dossier, Error> {
        self.get(&["v1", "clients", client_ref.as_str(), "dossier"]).read().await
    }

    /// `DELETE /v1/clients/{client_ref}`: destroys the key under which
    /// everything about the client is sealed.
    ///
    /// If the answer is lost on its way, the repetition answers 404: then it
    /// was done.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 428 if `if_match` is absent, 412 if
    /// somebody has changed the record, 404 if there is none.
    pub async fn erase_client(
        &self,
        client_ref: &Reference,
        if_match: Option<&str>,
    ) -> Result<ErasureReceipt, Error> {
        self.request(Method::DELETE, &["v1", "clients", client_ref.as_str()])
            .if_match(if_match)?
            .read()
            .await
    }

    /// The same as a dry run: what would be forgotten, and nothing done.
    ///
    /// # Errors
    /// As [`Client::erase_client`].
    pub async fn would_erase_client(
        &self,
        client_ref: &Reference,
        if_match: Option<&str>,
    ) -> Result<ErasureReceipt, Error> {
        self.request(Method::DELETE, &["v1", "clients", client_ref.as_str()])
            .query("dry_run", "true")
            .if_match(if_match)?
            .read()
            .await
    }

    /// `PUT /v1/artists/{artist_ref}`: keeps an artist.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 428 if the artist exists and
    /// `if_match` is absent, and 412 if somebody else has changed it.
    pub async fn put_artist(
        &self,
        artist_ref: &Reference,
        record: &ArtistRecord,
        if_match: Option<&str>,
    ) -> Result<Tagged<Artist>, Error> {
        self.put(&["v1", "artists", artist_ref.as_str()])
            .json(record)?
            .if_match(if_match)?
            .read_tagged()
            .await
    }

    /// `GET /v1/artists/{artist_ref}`: reads an artist.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none.
    pub async fn get_artist(&self, artist_ref: &Reference) -> Result<Tagged<Artist>, Error> {
        self.get(&["v1", "artists", artist_ref.as_str()]).read_tagged().await
    }

    /// `GET /v1/artists`: one page of every artist.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 400 for a cursor that is not ours.
    pub async fn list_artists(&self, query: &PageQuery) -> Result<Page<Artist>, Error> {
        self.get(&["v1", "artists"]).query_of(query)?.read().await
    }

    /// `PATCH /v1/artists/{artist_ref}`: changes some of an artist by a JSON Merge Patch (RFC 7396).
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none, and 412 if somebody
    /// else has changed it.
    pub async fn patch_artist(
        &self,
        artist_ref: &Reference,
        patch: &serde_json::Value,
        etag: &str,
    ) -> Result<Tagged<Artist>, Error> {
        self.request(Method::PATCH, &["v1", "artists", artist_ref.as_str()])
            .merging(patch)?
            .if_match(Some(etag))?
            .read_tagged()
            .await
    }

    /// `DELETE /v1/artists/{artist_ref}`: takes an artist away; what names it stays readable.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none, and 412 if somebody
    /// else has changed it.
    pub async fn delete_artist(&self, artist_ref: &Reference, etag: &str) -> Result<Artist, Error> {
        self.request(Method::DELETE, &["v1", "artists", artist_ref.as_str()])
            .if_match(Some(etag))?
            .read()
            .await
    }

    /// `GET /v1/hand-profiles/{artist_ref}`: what the artist's own healed
    /// results say about her hand.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is no such artist.
    pub async fn get_hand_profile(
        &self,
        artist_ref: &Reference,
    ) -> Result<Tagged<HandProfile>, Error> {
        self.get(&["v1", "hand-profiles", artist_ref.as_str()]).read_tagged().await
    }

    /// `PUT /v1/machines/{machine_ref}`: keeps a machine.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 428 if the machine exists and
    /// `if_match` is absent, and 412 if somebody else has changed it.
    pub async fn put_machine(
        &self,
        machine_ref: &Reference,
        record: &MachineRecord,
        if_match: Option<&str>,
    ) -> Result<Tagged<MachineAsStored>, Error> {
        self.put(&["v1", "machines", machine_ref.as_str()])
            .json(record)?
            .if_match(if_match)?
            .read_tagged()
            .await
    }

    /// `GET /v1/machines/{machine_ref}`: reads a machine.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none.
    pub async fn get_machine(
        &self,
        machine_ref: &Reference,
    ) -> Result<Tagged<MachineAsStored>, Error> {
        self.get(&["v1", "machines", machine_ref.as_str()]).read_tagged().await
    }

    /// `GET /v1/machines`: one page of every machine.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 400 for a cursor that is not ours.
    pub async fn list_machines(&self, query: &PageQuery) -> Result<Page<MachineAsStored>, Error> {
        self.get(&["v1", "machines"]).query_of(query)?.read().await
    }

    /// `PATCH /v1/machines/{machine_ref}`: changes some of a machine by a JSON Merge Patch (RFC 7396).
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none, and 412 if somebody
    /// else has changed it.
    pub async fn patch_machine(
        &self,
        machine_ref: &Reference,
        patch: &serde_json::Value,
        etag: &str,
    ) -> Result<Tagged<MachineAsStored>, Error> {
        self.request(Method::PATCH, &["v1", "machines", machine_ref.as_str()])
            .merging(patch)?
            .if_match(Some(etag))?
            .read_tagged()
            .await
    }

    /// `DELETE /v1/machines/{machine_ref}`: takes a machine away; what names it stays readable.
    ///
    /// # Errors
    /// [`Error::Problem`], among others 404 if there is none, and 412 if somebody
    /// else has changed it.
    pub async fn delete_machine(
        &self,
        machine_ref: &Reference,
        etag: &str,
    ) -> Result<MachineAsStored, Error> {
        self.request(Method::DELETE, &["v1", "machines", machine_ref.as_str()])
            .if_match(Some(etag))?
            .read()
            .await
    }
}
