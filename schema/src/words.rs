//! How a closed list of words is declared.

/// Declares a closed list: the enum, its spelling, all its members in a fixed
/// order. What else is derived stands in brackets before it, with serde among it.
///
/// Each member carries its own documentation:
///
/// ```
/// etui_schema::closed_list! {
///     [serde::Deserialize]
///     /// A colour.
///     Colour {
///         /// Like a rose.
///         Red = "red",
///         /// Like the sea.
///         Blue = "blue",
///     }
/// }
/// assert_eq!(Colour::Blue.as_str(), "blue");
/// assert_eq!(Colour::ALL.last(), Some(&Colour::Blue));
/// ```
#[macro_export]
macro_rules! closed_list {
    ([$($derive:tt)*] $(#[$meta:meta])* $name:ident { $($(#[$vmeta:meta])* $variant:ident = $text:literal),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, $($derive)*)]
        pub enum $name {
            $($(#[$vmeta])* #[serde(rename = $text)] $variant),+
        }

        impl $name {
            /// Every word of the list, in its order.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The spelling used on the wire.
            #[must_use]
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $text),+ }
            }
        }

        impl ::std::fmt::Display for $name {
            fn fmt(&self, f: &mut ::std::fmt::Formatter<'_>) -> ::std::fmt::Result {
                f.write_str(self.as_str())
            }
        }
    };
}

/// Declares a closed list of the wire: one that is read back as well, and has a
/// name for people.
macro_rules! words {
    ($(#[$meta:meta])* $name:ident, $list:literal { $($members:tt)+ }) => {
        $crate::closed_list! {
            [serde::Serialize, serde::Deserialize, $crate::describe::JsonSchema]
            $(#[$meta])* $name { $($members)+ }
        }

        impl AsRef<str> for $name {
            fn as_ref(&self) -> &str {
                self.as_str()
            }
        }

        impl ::std::str::FromStr for $name {
            type Err = $crate::vocabulary::UnknownWord;

            fn from_str(text: &str) -> Result<Self, Self::Err> {
                let known = || Self::ALL.iter().copied();
                known().find(|word| word.as_str() == text).ok_or_else(|| {
                    let accepted: Vec<&str> = known().map(Self::as_str).collect();
                    let accepted = accepted.join(", ");
                    $crate::vocabulary::UnknownWord { found: text.to_owned(), list: $list, accepted }
                })
            }
        }
    };
}
pub(crate) use words;
