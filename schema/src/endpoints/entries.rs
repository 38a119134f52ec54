//! What is added to a treatment: three operations a kind, of the rows of [`entries`](crate::entries!).

/// The table of the kinds of [`entries`](crate::entries!).
#[macro_export]
macro_rules! entries_endpoints {
    ($each:ident $($about:tt)*) => { $crate::entries! { [$crate::lines_of_entries] $each $($about)* } };
}

/// The rows of [`entries`](crate::entries!) as lines.
#[doc(hidden)]
#[macro_export]
macro_rules! lines_of_entries {
    ([$each:ident $($about:tt)*] $($(#[$of:meta])* $member:ident $name:ident($request:ty => $answer:ty)
        [$make:ident $get:ident $list:ident] {
            $path:literal [$scope:ident] $(#[$doc:meta])* $says:literal $more:literal $made:literal
            $speaks:tt $short:tt $one:literal $a:literal $the:literal $all:literal $page:literal $(like $like:tt)?
        })*) => { $each! {
        [$($about)*] "treatments"
        methods {$(
            $(#[$doc])*
            ///
            /// # Errors
            /// [`Error::Problem`] if there is no such treatment, or with a fault for each value that was
            /// refused.
            Once $make $path (id: Uuid) [$scope], body $request => $answer;
            #[doc = concat!("reads ", $a, ".")]
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            Get $get $one (treatment: Uuid, id: Uuid) [TreatmentsRead] => $answer;
            #[doc = concat!("one page of the ", $all, " of a treatment.")]
            ///
            /// # Errors
            /// [`Error::Problem`], among others 404 if the client was erased.
            List $list $path (treatment: Uuid) [TreatmentsRead], query $crate::page::PageQuery => $answer;
        )*}
        own {}
    }};
}

entries_endpoints!(values);
