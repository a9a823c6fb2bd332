//! What any stage may tell the user beside its result.

use serde::Serialize;

/// Something the user should hear.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Notice {
    /// Lead, cam or subject.
    pub about: String,
    /// One or two sentences.
    pub text: String,
}
