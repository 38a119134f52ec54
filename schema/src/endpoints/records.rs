//! The studio's memory of clients, artists and machines.

use crate::*;

/// The table of `records`.
#[macro_export]
macro_rules! records_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*] "records"
        methods {
            /// keeps a client.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 428 if the client exists and `if_match` is absent, and 412 if
            /// somebody else has changed it.
            Put put_client "/v1/clients/{client_ref}" (client_ref: &Reference) [ClientsWrite],
                body clients::ClientRecord => clients::Client;
            /// reads a client.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none or it was erased.
            Tagged get_client "/v1/clients/{client_ref}" (client_ref: &Reference) [ClientsRead] => clients::Client;
            /// one page of every client.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_clients "/v1/clients" [ClientsRead], query page::PageQuery => clients::ClientRow;
            /// changes some of a client by a JSON Merge Patch (RFC 7396).
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none, and 412 if somebody else has changed it.
            Patch patch_client "/v1/clients/{client_ref}" (client_ref: &Reference) [ClientsWrite]
                => clients::Client;
            /// everything that is held on a client.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if nothing is held or it was erased.
            Get get_dossier "/v1/clients/{client_ref}/dossier" (client_ref: &Reference) [Admin]
                => dossiers::Dossier;
            /// destroys the key under which everything about the client is sealed.
            ///
            /// If the answer is lost on its way, the repetition answers 404: then it was done.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 428 if `if_match` is absent, 412 if somebody has changed the
            /// record, 404 if there is none.
            Take erase_client "/v1/clients/{client_ref}" (client_ref: &Reference) [ClientsErase]
                => clients::ErasureReceipt, dry would_erase_client;
            /// keeps an artist.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 428 if the artist exists and `if_match` is absent, and 412 if
            /// somebody else has changed it.
            Put put_artist "/v1/artists/{artist_ref}" (artist_ref: &Reference) [ClientsWrite],
                body artists::ArtistRecord => artists::Artist;
            /// reads an artist.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none.
            Tagged get_artist "/v1/artists/{artist_ref}" (artist_ref: &Reference) [ClientsRead] => artists::Artist;
            /// one page of every artist.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_artists "/v1/artists" [ClientsRead], query branches::OfBranchQuery => artists::Artist;
            /// changes some of an artist by a JSON Merge Patch (RFC 7396).
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none, and 412 if somebody else has changed it.
            Patch patch_artist "/v1/artists/{artist_ref}" (artist_ref: &Reference) [ClientsWrite]
                => artists::Artist;
            /// takes an artist away; what names it stays readable.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none, and 412 if somebody else has changed it.
            Delete delete_artist "/v1/artists/{artist_ref}" (artist_ref: &Reference) [ClientsWrite]
                => artists::Artist;
            /// what the artist's own healed results say about her hand.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is no such artist.
            Tagged get_hand_profile "/v1/hand-profiles/{artist_ref}" (artist_ref: &Reference) [TreatmentsRead]
                => hand_profiles::HandProfile;
            /// keeps a machine.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 428 if the machine exists and `if_match` is absent, and 412 if
            /// somebody else has changed it.
            Put put_machine "/v1/machines/{machine_ref}" (machine_ref: &Reference) [ClientsWrite],
                body machines::MachineRecord => machines::MachineAsStored;
            /// reads a machine.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none.
            Tagged get_machine "/v1/machines/{machine_ref}" (machine_ref: &Reference) [ClientsRead]
                => machines::MachineAsStored;
            /// one page of every machine.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_machines "/v1/machines" [ClientsRead],
                query branches::OfBranchQuery => machines::MachineAsStored;
            /// changes some of a machine by a JSON Merge Patch (RFC 7396).
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none, and 412 if somebody else has changed it.
            Patch patch_machine "/v1/machines/{machine_ref}" (machine_ref: &Reference) [ClientsWrite]
                => machines::MachineAsStored;
            /// takes a machine away; what names it stays readable.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none, and 412 if somebody else has changed it.
            Delete delete_machine "/v1/machines/{machine_ref}" (machine_ref: &Reference) [ClientsWrite]
                => machines::MachineAsStored;
            /// keeps a branch.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 428 if the branch exists and `if_match` is absent, and 412 if
            /// somebody else has changed it.
            Put put_branch "/v1/branches/{branch_ref}" (branch_ref: &Reference) [Admin],
                body branches::BranchRecord => branches::Branch;
            /// reads a branch.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none.
            Tagged get_branch "/v1/branches/{branch_ref}" (branch_ref: &Reference) [ClientsRead] => branches::Branch;
            /// one page of every branch.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_branches "/v1/branches" [ClientsRead], query page::PageQuery => branches::Branch;
            /// changes some of a branch by a JSON Merge Patch (RFC 7396).
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none, and 412 if somebody else has changed it.
            Patch patch_branch "/v1/branches/{branch_ref}" (branch_ref: &Reference) [Admin] => branches::Branch;
            /// takes away a branch that nothing is of.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 409 if something is of it.
            Delete delete_branch "/v1/branches/{branch_ref}" (branch_ref: &Reference) [Admin] => branches::Branch;
        }
        own {}
    }};
}

records_endpoints!(values);
