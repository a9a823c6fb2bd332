//! Requests, from their first word until all of them is there.

use std::sync::Arc;

use serde::de::DeserializeOwned;

use super::answer::Refusal;
use super::reading::Reading;
use super::session::Session;
use crate::watch::Watch;

/// Largest request that is no upload of a capture: a hundred times the longest engine file that
/// makes sense.
const MOST_BYTES: u64 = 1_000_000;

/// Of an upload there is no room for.
const NO_MEMORY: &str = "There is no memory for this file now, beside others that are being read. Wait until they are read, or export a shorter capture";

/// What a request does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// Changes nothing.
    Get,
    /// Brings something, or starts it.
    Post,
    /// Takes something away, or ends it.
    Delete,
}

/// A request on its way in. Its body is taken piece by piece, and no further than is allowed.
pub struct Request {
    pub(super) method: Method,
    pub(super) path: String,
    query: String,
    pub(super) body: Vec<u8>,
    most: u64,
    /// How a user has larger captures taken; `None` for what is no capture.
    to_raise: Option<&'static str>,
    /// The reading of a capture, from its first byte: others can ask how far it is.
    reading: Option<Reading>,
    session: Arc<Session>,
    /// Bytes that count as on their way.
    coming: u64,
}

impl Drop for Request {
    fn drop(&mut self) {
        self.session.came(self.coming);
    }
}

/// The number under which an upload is asked about.
#[derive(serde::Deserialize)]
struct Numbered {
    reading: Option<u64>,
}

impl Request {
    pub(super) fn begin(session: &Arc<Session>, method: Method, address: &str) -> Request {
        let (path, query) = address.split_once('?').unwrap_or((address, ""));
        let mut request = Request {
            method,
            path: path.to_owned(),
            query: query.to_owned(),
            body: Vec::new(),
            most: MOST_BYTES,
            to_raise: None,
            reading: None,
            session: session.clone(),
            coming: 0,
        };
        if method == Method::Post && path == "/api/shelf/file" {
            request.most = session.most().bytes;
        }
        if method == Method::Post && path == "/api/captures" {
            request.most = session.most().bytes;
            request.to_raise = Some(session.most().to_raise);
            let numbered = request.query::<Numbered>().ok().and_then(|asked| asked.reading);
            request.reading = Some(Reading::begin(session, numbered));
        }
        request
    }

    /// Says how many bytes are going to come, where that is known beforehand.
    ///
    /// # Errors
    /// More than this request may bring.
    pub fn expect(&self, bytes: u64) -> Result<(), Refusal> {
        if bytes <= self.most {
            return Ok(());
        }
        let most = format!("{:.0} MB", self.most as f64 / 1e6);
        Err(Refusal::too_large(match self.to_raise {
            None => format!("What was sent is larger than {most}. Send less"),
            Some(to_raise) => {
                let or = if to_raise.is_empty() { "" } else { ", or " };
                format!(
                    "The file is larger than the {most} this page takes. Export a shorter capture{or}{to_raise}"
                )
            }
        }))
    }

    /// Takes a piece of the body.
    ///
    /// # Errors
    /// More than this request may bring.
    pub fn take(&mut self, piece: &[u8]) -> Result<(), Refusal> {
        self.expect((self.body.len() + piece.len()) as u64)?;
        self.counts(piece.len())?;
        if self.body.try_reserve(piece.len()).is_err() {
            return Err(Refusal::too_large(NO_MEMORY));
        }
        self.body.extend_from_slice(piece);
        Ok(())
    }

    /// Takes the whole body at once, without a copy of it.
    ///
    /// # Errors
    /// More than this request may bring.
    pub fn take_all(&mut self, body: Vec<u8>) -> Result<(), Refusal> {
        self.expect(body.len() as u64)?;
        self.counts(body.len())?;
        self.body = body;
        Ok(())
    }

    /// Counts bytes that came among those of every upload.
    fn counts(&mut self, bytes: usize) -> Result<(), Refusal> {
        if !self.session.may_come(bytes as u64) {
            return Err(Refusal::too_large(NO_MEMORY));
        }
        self.coming += bytes as u64;
        Ok(())
    }

    /// By which the work on this request is stopped, for whoever finds that nobody waits for the
    /// answer any more.
    #[must_use]
    pub fn watch(&self) -> Watch {
        self.reading.as_ref().map(Reading::watch).unwrap_or_default()
    }

    /// What stands behind the question mark.
    pub(super) fn query<T: DeserializeOwned>(&self) -> Result<T, Refusal> {
        serde_urlencoded::from_str(&self.query)
            .map_err(|error| Refusal::unusable(format!("The request cannot be read: {error}")))
    }

    /// The body as a value.
    pub(super) fn json<T: DeserializeOwned>(&self) -> Result<T, Refusal> {
        serde_json::from_slice(&self.body)
            .map_err(|error| Refusal::unusable(format!("The request cannot be read: {error}")))
    }
}
