//! The same work in a browser, on this computer only.
//!
//! A thin front: it reads captures and engine files with the readers every command uses, runs
//! [`analyse`](crate::analysis::analyse), and shows the report of [`html`](crate::report::html).
//! [`service`] is what the page can do; [`server`] carries it to a browser.

#[cfg(feature = "page")]
pub mod server;
pub mod service;

/// Bytes of an upload unless the user allows more: five minutes of four channels at 50 kS/s.
pub const MAX_UPLOAD: u64 = 500_000_000;
