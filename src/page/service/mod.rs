//! What the page can do, whatever carries it: a session, and requests that become answers.
//!
//! A carrier begins a [`Request`], hands its body over in pieces, and takes the [`Reply`]: an
//! [`Answer`], and sometimes [`Work`] that goes on after it, which the page asks about while it
//! lasts and may cancel. Nothing here knows a server, a thread or a clock. What a browser sends is
//! data, never a path that is opened; what is held ends with the session, and no file is written.

mod answer;
mod captures;
mod compared;
mod engines;
mod form;
mod held;
mod leads;
mod reading;
mod remedies;
mod request;
mod run;
mod runs;
mod seen;
mod session;
mod shell;
mod wheel;

use std::sync::Arc;

pub use answer::{Answer, Refusal, Status};
pub use request::{Method, Request};
pub use session::UploadLimit;

use session::Session;

/// The service behind the page. Copies are of one session.
#[derive(Clone)]
pub struct Service {
    session: Arc<Session>,
}

/// Work that goes on after its answer. Whoever carries the page runs it, beside further requests
/// where it can.
pub struct Work(Box<dyn FnOnce() + Send>);

impl Work {
    /// Does it.
    pub fn run(self) {
        (self.0)();
    }
}

/// What a request becomes.
pub struct Reply {
    /// The answer.
    pub answer: Answer,
    /// What is to be done when it was given.
    pub work: Option<Work>,
}

impl Service {
    /// A new session. It holds the demonstration's engine and nothing else.
    #[must_use]
    pub fn new(most: UploadLimit) -> Service {
        Service { session: Arc::new(Session::new(most)) }
    }

    /// Gives what is added next this number. A carrier whose session ended before the page did asks
    /// its requests again, and everything gets the number the page knows it by.
    pub fn count_from(&self, number: u64) {
        self.session.count_from(number);
    }

    /// Begins a request: its method, and its address from the first `/` on.
    #[must_use]
    pub fn begin(&self, method: Method, address: &str) -> Request {
        Request::begin(&self.session, method, address)
    }

    /// Answers a request whose body has been taken.
    #[must_use]
    pub fn ask(&self, mut request: Request) -> Reply {
        let mut work = None;
        let answer = self.answer(&mut request, &mut work).unwrap_or_else(Answer::from);
        Reply { answer, work }
    }

    fn answer(&self, request: &mut Request, work: &mut Option<Work>) -> Result<Answer, Refusal> {
        use Method::{Delete, Get, Post};
        let session = &self.session;
        let path = std::mem::take(&mut request.path);
        let path: Vec<&str> = path.split('/').skip(1).collect();
        match (request.method, path.as_slice()) {
            (Get, [""]) => Ok(shell::page()),
            (Get, [file]) => shell::file(file),
            (Get, ["api", "session"]) => Ok(shell::state(session)),
            (Post, ["api", "captures"]) => captures::upload(session, request),
            (Post, ["api", "demonstration", name]) => captures::demonstration(session, name),
            (Get, ["api", "captures", id]) => captures::show(session, number(id)?),
            (Delete, ["api", "captures", id]) => captures::remove(session, number(id)?),
            (Get, ["api", "readings", id]) => Ok(reading::show(session, number(id)?)),
            (Delete, ["api", "readings", id]) => reading::stop(session, number(id)?),
            (Post, ["api", "engines"]) => engines::upload(session, request),
            (Post, ["api", "engines", "form"]) => engines::from_form(session, &request.json()?),
            (Get, ["api", "engines", id]) => engines::show(session, number(id)?),
            (Get, ["api", "leads"]) => leads::show(session, &request.query()?),
            (Get, ["api", "wheel"]) => wheel::draw(&request.query()?),
            (Post, ["api", "runs"]) => {
                let (answer, begun) = runs::start(session, request.json()?)?;
                *work = Some(begun);
                Ok(answer)
            }
            (Get, ["api", "runs", id]) => runs::show(session, number(id)?),
            (Delete, ["api", "runs", id, "cancel"]) => runs::cancel(session, number(id)?),
            (Get, ["runs", id, name]) => runs::file(session, number(id)?, name),
            (Get, ["api", "compare"]) => compared::show(session, &request.query()?),
            (Get, ["compare", before, after, name]) => {
                compared::file(session, number(before)?, number(after)?, name)
            }
            _ => Err(Refusal::missing("address")),
        }
    }
}

/// A number within an address.
fn number(text: &str) -> Result<u64, Refusal> {
    text.parse().map_err(|_| Refusal::missing("number"))
}
