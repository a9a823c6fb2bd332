//! Whether the engine was turned by the starter or by itself.

/// What turned the engine over the stretch used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Condition {
    /// The starter, all the time.
    Cranking,
    /// Its own combustion, all the time.
    Running,
    /// First the one, then the other.
    Mixed,
}

impl Condition {
    /// The word in results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Condition::Cranking => "cranking",
            Condition::Running => "running",
            Condition::Mixed => "mixed",
        }
    }
}
