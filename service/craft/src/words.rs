//! Closed lists of the craft's own, declared as those of the wire are.

/// Declares a closed list that rule files may name.
macro_rules! words {
    ($($list:tt)+) => {
        etui_schema::closed_list! { [serde::Deserialize] $($list)+ }
    };
}
pub(crate) use words;
