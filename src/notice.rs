//! What any stage may tell the user beside its result.

/// Something the user should hear.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// Lead, cam or subject.
    pub about: String,
    /// One or two sentences.
    pub text: String,
}
