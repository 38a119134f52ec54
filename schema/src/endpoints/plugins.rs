//! Plug-ins and their tokens.

use crate::*;

/// The table of `plugins`.
#[macro_export]
macro_rules! plugins_endpoints {
    ($each:ident $($about:tt)*) => { $each! {
        [$($about)*] "plugins"
        methods {
            /// whose token this client holds.
            ///
            /// # Errors
            /// [`Error::Problem`] with 401 if the token opens nothing.
            Get get_me "/v1/plugins/me" => plugins::Identity;
            /// registers a plug-in.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 409 if the name is taken.
            Once register_plugin "/v1/plugins" [Admin], body plugins::PluginRequest => plugins::Plugin;
            /// one page of the plug-ins, first registered first.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 400 for a cursor that is not ours.
            List list_plugins "/v1/plugins" [Admin], query page::PageQuery => plugins::Plugin, rows plugins;
            /// reads a plug-in.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is none or it was removed.
            Tagged get_plugin "/v1/plugins/{id}" (id: Uuid) [Admin] => plugins::Plugin;
            /// changes what a plug-in is for, its scopes and its limits, in the version that was read. The
            /// patch is one of RFC 7396.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 412 if it changed since.
            Patch patch_plugin "/v1/plugins/{id}" (id: Uuid) [Admin] => plugins::Plugin;
            /// removes a plug-in; its tokens open nothing from then on.
            ///
            /// # Errors
            /// [`Error::Problem`] with 404 if there is none.
            Close remove_plugin "/v1/plugins/{id}" (id: Uuid) [Admin] => plugins::Plugin;
            /// one page of what a plug-in did, newest first. A page can be empty and still have a next one.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there never was such a plug-in.
            List list_plugin_activity "/v1/plugins/{id}/activity" (id: Uuid) [Admin],
                query page::PageQuery => plugins::PluginAct, rows plugin_activity;
            /// makes a token.
            ///
            /// The answer has the `secret` unless an earlier attempt of the same request was carried out and
            /// its answer lost; then rotate the token without overlap, or revoke it.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 422 for a scope that the plug-in does not hold.
            Once issue_plugin_token "/v1/plugins/{id}/tokens" (id: Uuid) [Admin],
                body plugins::PluginTokenRequest => plugins::PluginToken;
            /// one page of the tokens of a plug-in, without their secrets.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is no such plug-in.
            List list_plugin_tokens "/v1/plugins/{id}/tokens" (id: Uuid) [Admin],
                query page::PageQuery => plugins::PluginToken;
            /// one of them.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is no such token.
            Get get_plugin_token "/v1/plugins/{id}/tokens/{token_id}" (id: Uuid, token_id: Uuid) [Admin]
                => plugins::PluginToken;
            /// takes a token back.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if there is no such token.
            Close revoke_plugin_token "/v1/plugins/{id}/tokens/{token_id}" (id: Uuid, token_id: Uuid) [Admin]
                => plugins::PluginToken;
            /// exchanges a token for a new one. As for [`Client::issue_plugin_token`], the `secret` is in the
            /// first answer only.
            ///
            /// # Errors
            /// [`Error::Problem`], among others 409 if the token opens nothing any more.
            Once rotate_plugin_token "/v1/plugins/{id}/tokens/{token_id}/rotations"
                (id: Uuid, token_id: Uuid) [Admin],
                body plugins::TokenRotationRequest => plugins::PluginToken;
        }
        own {}
    }};
}

plugins_endpoints!(values);
