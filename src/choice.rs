//! Words out of a few, each the same on the command line, in the log and in JSON.

/// An enum of such words, with all of them in order; with the code of each where that is written behind
/// it.
macro_rules! choice {
    ($(#[$about:meta])* $name:ident { $($(#[$word_about:meta])* $word:ident = $code:literal,)* }) => {
        choice! { $(#[$about])* $name { $($(#[$word_about])* $word,)* } }

        impl $name {
            /// As it is typed, kept and told in JSON.
            pub fn code(self) -> &'static str {
                match self { $(Self::$word => $code,)* }
            }
        }
    };
    ($(#[$about:meta])* $name:ident { $($(#[$word_about:meta])* $word:ident,)* }) => {
        $(#[$about])*
        #[derive(
            Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize,
            serde::Deserialize, schemars::JsonSchema, clap::ValueEnum,
        )]
        #[serde(rename_all = "kebab-case")]
        pub enum $name { $($(#[$word_about])* $word,)* }

        impl $name {
            /// All of them, in order.
            pub const ALL: [Self; [$(stringify!($word)),*].len()] = [$(Self::$word),*];
        }
    };
}
