//! Packs: what a studio adds to the built-in data.

use crate::*;

/// The table of `packs`.
#[macro_export]
macro_rules! packs_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*] "plugins"
        methods {
            /// one page of packs, by kind and name.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_packs "/v1/packs" [Admin], query packs::PackQuery => packs::PackRow, rows packs;
            /// what a rules pack would change on the stored checks. Nothing is written.
            ///
            /// # Errors
            /// [`Error::Problem`]: whatever putting it would be refused with, and 404 if no pack was sent and
            /// none is kept under the name.
            Post dry_run_rules_pack "/v1/packs/rules/{pack}/dry-runs" (name: &Reference) [Admin],
                body packs::PackDryRunRequest => packs::PackDryRun;
            /// keeps a pack and applies it if it is enabled.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 with every fault of the pack, 409 if another pack would
            /// no longer be sound, 428 if it exists and `if_match` is absent.
            Put put_rules_pack "/v1/packs/rules/{pack}" (name: &Reference) [Admin],
                body packs::RulesPack => packs::KeptPack<packs::RulesPack>;
            /// reads a pack as it was put.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none.
            Tagged get_rules_pack "/v1/packs/rules/{pack}" (name: &Reference) [Admin]
                => packs::KeptPack<packs::RulesPack>;
            /// takes a pack away and answers with what it was.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 409 if another pack needs it.
            Take delete_rules_pack "/v1/packs/rules/{pack}" (name: &Reference) [Admin]
                => packs::KeptPack<packs::RulesPack>;
            /// keeps a pack and applies it if it is enabled.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 with every fault of the pack, 409 if another pack would
            /// no longer be sound, 428 if it exists and `if_match` is absent.
            Put put_label_spellings_pack "/v1/packs/label-spellings/{pack}" (name: &Reference) [Admin],
                body packs::LabelSpellingsPack => packs::KeptPack<packs::LabelSpellingsPack>;
            /// reads a pack as it was put.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none.
            Tagged get_label_spellings_pack "/v1/packs/label-spellings/{pack}" (name: &Reference) [Admin]
                => packs::KeptPack<packs::LabelSpellingsPack>;
            /// takes a pack away and answers with what it was.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 409 if another pack needs it.
            Take delete_label_spellings_pack "/v1/packs/label-spellings/{pack}" (name: &Reference) [Admin]
                => packs::KeptPack<packs::LabelSpellingsPack>;
            /// keeps a pack and applies it if it is enabled.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 with every fault of the pack, 409 if another pack would
            /// no longer be sound, 428 if it exists and `if_match` is absent.
            Put put_aftercare_pack "/v1/packs/aftercare/{pack}" (name: &Reference) [Admin],
                body packs::AftercarePack => packs::KeptPack<packs::AftercarePack>;
            /// reads a pack as it was put.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none.
            Tagged get_aftercare_pack "/v1/packs/aftercare/{pack}" (name: &Reference) [Admin]
                => packs::KeptPack<packs::AftercarePack>;
            /// takes a pack away and answers with what it was.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 409 if another pack needs it.
            Take delete_aftercare_pack "/v1/packs/aftercare/{pack}" (name: &Reference) [Admin]
                => packs::KeptPack<packs::AftercarePack>;
        }
        own {}
    }};
}

packs_endpoints!(values);
