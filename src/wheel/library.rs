//! The wheels that come with the tool: the files of `tooth-patterns/`, built in.
//!
//! To add one, put its file in `tooth-patterns/` and its name in [`LIBRARY`]; a test
//! fails when the two differ.

/// A built-in wheel file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LibraryWheel {
    /// Name to ask for it by: the file name without `.toml`.
    pub name: &'static str,
    /// The file's text.
    pub text: &'static str,
}

macro_rules! library {
    ($($name:literal),* $(,)?) => {
        &[$(LibraryWheel {
            name: $name,
            text: include_str!(concat!("../../tooth-patterns/", $name, ".toml")),
        }),*]
    };
}

/// Every built-in wheel, crank wheels first.
pub const LIBRARY: &[LibraryWheel] = library![
    "60-2",
    "36-1",
    "36-2",
    "36-2-2-2-thirds",
    "36-2-2-2-uneven",
    "36-2-1",
    "24-even",
    "12-plus-1",
    "24-wide-narrow",
    "half-moon",
    "three-uneven",
    "two-narrow-two-wide",
    "four-plus-one",
    "six-minus-one",
];

/// Looks a wheel up by its name, without regard to case.
pub(super) fn by_name(name: &str) -> Option<LibraryWheel> {
    LIBRARY.iter().copied().find(|wheel| wheel.name.eq_ignore_ascii_case(name.trim()))
}
