//! Artists: how firmly they work and what they have practised.

use etui_craft::refusal::Refusal;
use etui_schema::artists::{Artist, ArtistRecord, Practice};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::{ArtistStanding, CivilDate, Hand, Instant, Reference};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::Studio;
use super::branches;
use super::documents::{self, Document, Sent};
use super::error::Error;
use super::moment::{Mandate, Moment};
use super::sent_back::SentBack;
use crate::store::record::{Record, decode};
use crate::store::rows::Rows;
use crate::store::{Batch, Read, Space};

/// An artist as stored.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct StoredArtist {
    artist_ref: Reference,
    hand: Hand,
    practice: Vec<Practice>,
    /// What a request left out, and in artists of before there was one: as before.
    #[serde(default)]
    standing: Option<ArtistStanding>,
    #[serde(default)]
    trainer: Option<bool>,
    #[serde(default)]
    licensed_on: Option<CivilDate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    branch_ref: Option<Reference>,
    version: u64,
    updated_at: Instant,
}

impl StoredArtist {
    /// How firmly the artist works.
    #[must_use]
    pub fn hand(&self) -> Hand {
        self.hand
    }

    /// How the artist stands.
    #[must_use]
    pub fn standing(&self) -> ArtistStanding {
        self.standing.unwrap_or(ArtistStanding::Artist)
    }

    /// Whether the artist is a student.
    #[must_use]
    pub fn is_student(&self) -> bool {
        self.standing() == ArtistStanding::Student
    }

    /// Whether an `admin` named the artist trainer.
    #[must_use]
    pub fn is_trainer(&self) -> bool {
        self.trainer == Some(true)
    }

    /// Since when the artist holds her own licence.
    #[must_use]
    pub fn licensed_on(&self) -> Option<Date> {
        self.licensed_on.map(|day| day.0)
    }

    /// What the artist has practised, as it was told.
    #[must_use]
    pub fn practice(&self) -> &[Practice] {
        &self.practice
    }
}

/// Whether anybody who works here is a student. One who cannot be read may be.
///
/// # Errors
/// What the store met.
pub async fn has_students<R: Read>(snap: &mut R) -> Result<bool, Error> {
    let mut rows = Rows::all(StoredArtist::SPACE);
    while let Some((_, bytes)) = rows.next(snap).await? {
        if decode::<StoredArtist>(&bytes).map_or(true, |artist| artist.is_student()) {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Whether somebody is a student, or nobody on record where students work: she may be one.
///
/// # Errors
/// What the store met.
pub async fn may_be_student<R: Read>(
    studio: &Studio,
    snap: &mut R,
    artist: &Reference,
) -> Result<bool, Error> {
    match documents::find::<StoredArtist, _>(studio, snap, artist).await? {
        Some(artist) => Ok(artist.is_student()),
        None => has_students(snap).await,
    }
}

/// The artist that a token acts for beside somebody else, if she is, or may be, a student.
async fn student_beside<R: Read>(
    studio: &Studio,
    snap: &mut R,
    moment: &Moment,
    artist: &Reference,
) -> Result<Option<Reference>, Error> {
    let acting = moment.mandate.acts_for.as_ref().filter(|acting| *acting != artist);
    let Some(acting) = acting else { return Ok(None) };
    Ok(may_be_student(studio, snap, acting).await?.then(|| acting.clone()))
}

/// Refuses work in another's name by a student: what she did would read as a trainer's.
///
/// # Errors
/// [`Error::Refused`], or what the store met.
pub async fn own_work<R: Read>(
    studio: &Studio,
    snap: &mut R,
    moment: &Moment,
    (artist, pointer): (&Reference, &str),
) -> Result<(), Error> {
    let Some(acting) = student_beside(studio, snap, moment, artist).await? else { return Ok(()) };
    let why = format!("this token acts for `{acting}`, a student, who records her own work alone");
    Err(Error::at(pointer, FaultCode::NotAllowed, why).means(Refusal::OnlyOwn))
}

/// Refuses to a student's token what everybody's work is held to: among the packs is the law
/// that asks for treatments under an eye.
///
/// # Errors
/// [`Error::Refused`], or what the store met.
pub async fn no_students_rules<R: Read>(
    studio: &Studio,
    snap: &mut R,
    moment: &Moment,
) -> Result<(), Error> {
    let Some(acting) = &moment.mandate.acts_for else { return Ok(()) };
    if !may_be_student(studio, snap, acting).await? {
        return Ok(());
    }
    let why = format!("this token acts for `{acting}`, a student, who changes no packs");
    Err(Error::at("#", FaultCode::NotAllowed, why).means(Refusal::OwnerOnly))
}

/// Refuses that a student writes another artist: she would be no student there.
async fn own_record<R: Read>(
    studio: &Studio,
    snap: &mut R,
    moment: &Moment,
    artist: &Reference,
) -> Result<(), Error> {
    let Some(acting) = student_beside(studio, snap, moment, artist).await? else { return Ok(()) };
    let why = format!("this token acts for `{acting}`, a student, who writes no other artist");
    Err(Error::at("#", FaultCode::NotAllowed, why).means(Refusal::OnlyOwn))
}

/// Another artist whose reference is the same but for case and marks.
async fn look_alike<R: Read>(
    snap: &mut R,
    reference: &Reference,
) -> Result<Option<Reference>, Error> {
    documents::look_alike::<StoredArtist, _>(snap, reference, |artist| &artist.artist_ref).await
}

fn alike(kept: &Reference, pointer: &str) -> Fault {
    let why = format!("it differs from `{kept}`, who is kept, by case or marks alone");
    Fault::new(pointer, FaultCode::Duplicate, why).means(Refusal::ArtistAlike)
}

/// The fault of naming somebody who is not kept and whom only case or marks tell from an artist
/// who is. Who is not kept at all may be meant: she was taken away, or comes later.
///
/// # Errors
/// What the store met.
pub async fn mistaken<R: Read>(
    studio: &Studio,
    snap: &mut R,
    artist: &Reference,
    pointer: &str,
) -> Result<Option<Fault>, Error> {
    if documents::find::<StoredArtist, _>(studio, snap, artist).await?.is_some() {
        return Ok(None);
    }
    Ok(look_alike(snap, artist).await?.map(|kept| alike(&kept, pointer)))
}

/// Whether a caller may see what is personal of an artist's work: whoever acts for nobody, the
/// artist herself, a trainer; with a token that reaches her.
///
/// # Errors
/// What the store met.
pub async fn is_seen<R: Read>(
    studio: &Studio,
    snap: &mut R,
    moment: &Moment,
    artist: &Reference,
) -> Result<bool, Error> {
    if !moment.mandate.reaches(Some(artist)) {
        return Ok(false);
    }
    let Some(acting) = moment.mandate.acts_for.as_ref().filter(|acting| *acting != artist) else {
        return Ok(true);
    };
    let acting = documents::find::<StoredArtist, _>(studio, snap, acting).await?;
    Ok(acting.is_some_and(|acting| acting.is_trainer() && !acting.is_student()))
}

/// Refuses what [`is_seen`] denies: to others it is not there.
///
/// # Errors
/// [`Error::NotFound`], or what the store met.
pub async fn hide<R: Read>(
    studio: &Studio,
    snap: &mut R,
    moment: &Moment,
    artist: &Reference,
) -> Result<(), Error> {
    if is_seen(studio, snap, moment, artist).await? {
        return Ok(());
    }
    Err(Error::NotFound { what: "artist", id: artist.to_string() })
}

/// An artist whom a caller may see.
///
/// # Errors
/// [`Error::NotFound`] as in [`hide`] and if none is kept, or what the store met.
pub async fn may_see<R: Read>(
    studio: &Studio,
    snap: &mut R,
    moment: &Moment,
    artist: &Reference,
) -> Result<StoredArtist, Error> {
    hide(studio, snap, moment, artist).await?;
    documents::get(studio, snap, artist).await
}

impl StoredArtist {
    /// How she stands, and who is trainer, says only `admin`, and nobody of herself.
    fn said_by_admin(&self, moment: &Moment, pointer: &str, why: &str) -> Result<(), Error> {
        let herself = moment.mandate.acts_for.as_ref() == Some(&self.artist_ref);
        if moment.mandate.is_admin && !herself {
            return Ok(());
        }
        Err(Error::at(pointer, FaultCode::NotAllowed, why).means(Refusal::OwnerOnly))
    }
}

impl Record for StoredArtist {
    const KIND: &'static str = "artist";
}

impl Document for StoredArtist {
    const SPACE: Space = Space::new("artists");
    const WHAT: &'static str = "artist";
    const REFERENCE: &'static str = "artist_ref";
    const REMOVED: Option<Space> = Some(Space::new("artists-removed"));
    type Request = ArtistRecord;
    type Answer = Artist;

    fn sent_back(request: &ArtistRecord) -> SentBack<'_> {
        let ArtistRecord { artist_ref: reference, version, updated_at, .. } = request;
        SentBack { reference: reference.as_ref(), version: *version, updated_at: *updated_at }
    }

    fn of(reference: &Reference, request: &ArtistRecord, version: u64, at: Timestamp) -> Self {
        let ArtistRecord {
            hand,
            practice,
            artist_ref: _,
            version: _,
            updated_at: _,
            standing,
            trainer,
            licensed_on,
            branch_ref,
        } = request.clone();
        let (artist_ref, updated_at) = (reference.clone(), Instant(at));
        Self {
            artist_ref,
            hand,
            practice,
            standing,
            trainer,
            licensed_on,
            branch_ref,
            version,
            updated_at,
        }
    }

    fn over(self, before: Option<&Self>, moment: &Moment, sent: Sent) -> Result<Self, Error> {
        // A patch takes away with `null`; a body that leaves them out leaves them as they are.
        let stays = before.filter(|_| sent == Sent::Body);
        let next = Self {
            standing: self.standing.or(stays.and_then(|before| before.standing)),
            trainer: self.trainer.or(stays.and_then(|before| before.trainer)),
            licensed_on: self.licensed_on.or(stays.and_then(|before| before.licensed_on)),
            branch_ref: self.branch_ref.or(stays.and_then(|before| before.branch_ref.clone())),
            ..self
        };
        if before.is_some_and(Self::is_student) && !next.is_student() {
            let why = "that a student is one no longer says only a token with `admin` that does not act for her";
            next.said_by_admin(moment, "#/standing", why)?;
        }
        if before.is_some_and(Self::is_trainer) != next.is_trainer() {
            let why =
                "who signs off others says only a token with `admin` that does not act for her";
            next.said_by_admin(moment, "#/trainer", why)?;
        }
        if before.and_then(|before| before.licensed_on) != next.licensed_on {
            let why = "since when an artist holds her licence says only a token with `admin` that does not act for her";
            next.said_by_admin(moment, "#/licensed_on", why)?;
        }
        if next.is_trainer() && next.is_student() {
            let why = "a student signs off nobody, so she is no trainer";
            return Err(Error::at("#/trainer", FaultCode::Contradiction, why)
                .means(Refusal::StudentNoTrainer));
        }
        Ok(next)
    }

    async fn may_write<R: Read>(
        studio: &Studio,
        snap: &mut R,
        moment: &Moment,
        reference: &Reference,
        new: Option<&Self>,
    ) -> Result<(), Error> {
        own_record(studio, snap, moment, reference).await?;
        let Some(new) = new else { return Ok(()) };
        if let Some(kept) = look_alike(snap, reference).await? {
            return Err(Error::Refused(vec![alike(&kept, "path:artist_ref")]));
        }
        // Somebody else of that name would work by what was signed for another, and by her tokens.
        if documents::was_removed::<Self, _>(studio, snap, reference).await? {
            let why = "an artist of this reference was taken away: that it is the same person says only a token with `admin` that does not act for her; take another reference";
            let said = new.said_by_admin(moment, "path:artist_ref", why);
            said.map_err(|error| error.means(Refusal::ArtistRemoved))?;
        }
        if !new.is_student() && has_students(snap).await? {
            let why = "where students work, who joins as an artist says only a token with `admin` that does not act for her; send `student`";
            new.said_by_admin(moment, "#/standing", why)?;
        }
        Ok(())
    }

    fn may_go(&self, moment: &Moment) -> Result<(), Error> {
        // Taken away and put again she would be a student no longer.
        let why =
            "a student is taken away only with a token with `admin` that does not act for her";
        if self.is_student() { self.said_by_admin(moment, "#", why) } else { Ok(()) }
    }

    async fn stands<R: Read>(
        &self,
        studio: &Studio,
        snap: &mut R,
        batch: Batch,
    ) -> Result<Batch, Error> {
        branches::expect(studio, snap, batch, (self.branch(), "#/branch_ref")).await
    }

    fn branch(&self) -> Option<&Reference> {
        self.branch_ref.as_ref()
    }

    fn is_reached(&self, mandate: &Mandate) -> bool {
        mandate.reaches_work(Some(&self.artist_ref), self.branch())
    }

    fn stamp(&self) -> (u64, Instant) {
        (self.version, self.updated_at)
    }

    fn answer(&self) -> Artist {
        let (standing, trainer) = (self.standing(), self.is_trainer());
        let Self {
            artist_ref,
            hand,
            practice,
            standing: _,
            trainer: _,
            licensed_on,
            branch_ref,
            version,
            updated_at,
        } = self.clone();
        Artist {
            artist_ref,
            hand,
            practice,
            standing,
            trainer,
            licensed_on,
            branch_ref,
            version,
            updated_at,
        }
    }
}
