//! The key of a session: whoever started the page has it in the address, and nobody else on the
//! computer does.

use axum::http::HeaderMap;
use axum::http::header::COOKIE;

/// Bytes of a key: too many to guess.
const BYTES: usize = 16;

/// A number nobody can guess, small enough for every browser to hold exactly.
#[must_use]
pub fn number() -> u64 {
    const BITS: u32 = 52;
    let mut bytes = [0; 8];
    // Without randomness of the system there is no key either, and the page does not start.
    let _ = getrandom::fill(&mut bytes);
    (u64::from_le_bytes(bytes) >> (64 - BITS)).max(1)
}

/// A key, as letters of an address.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Key(String);

impl Key {
    /// A new one, from the system's randomness.
    ///
    /// # Errors
    /// The system has none to give.
    pub fn new() -> std::io::Result<Key> {
        let mut bytes = [0; BYTES];
        getrandom::fill(&mut bytes).map_err(|error| std::io::Error::other(error.to_string()))?;
        Ok(Key(bytes.iter().map(|byte| format!("{byte:02x}")).collect()))
    }

    /// The address with which a browser gets in.
    #[must_use]
    pub fn address(&self, port: u16) -> String {
        format!("http://127.0.0.1:{port}/?key={}", self.0)
    }

    /// Whether an address holds it.
    pub(super) fn opens(&self, query: Option<&str>) -> bool {
        query.is_some_and(|query| {
            query.split('&').any(|part| part.strip_prefix("key=") == Some(&self.0))
        })
    }

    /// Whether a browser that got in before asks again. Cookies do not tell ports apart, so their
    /// names do.
    pub(super) fn held(&self, headers: &HeaderMap, port: u16) -> bool {
        let name = name(port);
        headers.get_all(COOKIE).iter().filter_map(|value| value.to_str().ok()).any(|cookies| {
            cookies.split(';').any(|one| one.trim().split_once('=') == Some((&name, &self.0)))
        })
    }

    /// What a browser is given to keep until it is closed: no script reads it, no other page sends
    /// it.
    pub(super) fn cookie(&self, port: u16) -> String {
        format!("{}={}; Path=/; HttpOnly; SameSite=Strict", name(port), self.0)
    }
}

fn name(port: u16) -> String {
    format!("camwitness-{port}")
}
