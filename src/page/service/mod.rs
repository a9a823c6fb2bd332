//! What the page can do, whatever carries it: a session, and requests that become answers.
//!
//! A carrier begins a [`Request`], hands its body over in pieces, and takes the [`Reply`]: an
//! [`Answer`], and sometimes [`Work`] that goes on after it, which the page asks about while it
//! lasts and may cancel. Nothing here knows a server, a thread or a clock. What a browser sends is
//! data, never a path that is opened; what is held ends with the session, and no file is written.

mod answer;
mod captures;
mod carried;
mod compared;
mod engines;
mod form;
mod held;
mod joined;
mod leads;
mod learned;
mod lists;
mod markup;
mod places;
mod practice;
mod reading;
mod remedies;
mod request;
mod run;
mod runs;
mod seen;
mod session;
mod sheet;
mod shell;
mod shop;
mod trace;
mod typed;
mod undescribed;
mod watched;
mod wheel;

use std::sync::Arc;

pub use answer::{Answer, Refusal, Status};
pub use captures::{Reading, unpacked};
pub use carried::CarriedShelf;
pub use engines::read as read_engine;
pub use request::{Method, Request};
pub use session::{MOST_MEMORY, Setup, UploadLimit};
pub use shop::{
    EngineOfShelf, Found, JobOfShelf, JobToKeep, JobsOfShelf, LISTED, OnShelf, Shop, Told,
    safe_name,
};

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
    /// A new session of its own. It holds the demonstration's engine and nothing else.
    #[must_use]
    pub fn new(most: UploadLimit) -> Service {
        Service::with(Setup::alone(most))
    }

    /// A new session, set up.
    #[must_use]
    pub fn with(setup: Setup) -> Service {
        Service { session: Arc::new(Session::new(setup)) }
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
            (Get, [""]) => Ok(shell::page(session)),
            (Get, ["scripts"]) => Ok(shell::scripts()),
            (Get, [file]) => shell::file(file),
            (Get, ["api", "session"]) => Ok(shell::state(session)),
            (Post, ["api", "runs"]) => {
                let (answer, begun) = runs::start(session, request.json()?)?;
                *work = Some(begun);
                Ok(answer)
            }
            (Get, ["api", "runs", id]) => runs::show(session, number(id)?),
            (Delete, ["api", "runs", id]) => runs::remove(session, number(id)?),
            (Delete, ["api", "runs", id, "cancel"]) => runs::cancel(session, number(id)?),
            (Get, ["runs", id, name]) => runs::file(session, number(id)?, name),
            (Get, ["api", "compare"]) => compared::show(session, &request.query()?),
            (Get, ["compare", before, after, name]) => {
                let (before, after) = (number(before)?, number(after)?);
                compared::file(session, before, after, name, request.query()?)
            }
            (Post, ["api", "watch"]) => watched::choose(session, request.json()?),
            (Get, ["shelf", shop::FILE]) => shop::file(session),
            (method, ["api", "shelf", rest @ ..]) => self.of_shelf(method, rest, request),
            (method, path) => self.brought(method, path, request),
        }
    }

    /// Captures and engines: brought, looked at, taken away.
    fn brought(
        &self,
        method: Method,
        path: &[&str],
        request: &mut Request,
    ) -> Result<Answer, Refusal> {
        use Method::{Delete, Get, Post};
        let session = &self.session;
        match (method, path) {
            (Post, ["api", "captures"]) => captures::upload(session, request),
            (Post, ["api", "demonstration", name]) => {
                captures::demonstration(session, name, request.query()?)
            }
            (Get, ["api", "captures", id]) => captures::show(session, number(id)?),
            (Delete, ["api", "captures", id]) => captures::remove(session, number(id)?),
            (Get, ["api", "trace"]) => trace::show(session, &request.query()?),
            (Get, ["api", "readings", id]) => Ok(reading::show(session, number(id)?)),
            (Delete, ["api", "readings", id]) => reading::stop(session, number(id)?),
            (Post, ["api", "engines"]) => engines::upload(session, request),
            (Post, ["api", "engines", "form"]) => engines::from_form(session, &request.json()?),
            (Post, ["api", "places"]) => places::show(session, &request.json()?),
            (Get, ["api", "engines", id]) => engines::show(session, number(id)?),
            (Delete, ["api", "engines", id]) => engines::remove(session, number(id)?),
            (Get, ["api", "engines", id, "faults"]) => practice::choices(session, number(id)?),
            (Delete, ["api", "engines", id, "known"]) => learned::forget(session, number(id)?),
            (Post, ["api", "known"]) => learned::upload(session, request),
            (Post, ["api", "learn"]) => learned::from_captures(session, &request.json()?),
            (Post, ["api", "practice"]) => practice::make(session, &request.json()?),
            (Get, ["plan", id]) => sheet::show(session, number(id)?, &request.query()?),
            (Get, ["api", "leads"]) => leads::show(session, &request.query()?),
            (Get, ["api", "wheel"]) => wheel::draw(&request.query()?),
            _ => Err(Refusal::missing("address")),
        }
    }

    /// The shelf of this computer.
    fn of_shelf(
        &self,
        method: Method,
        path: &[&str],
        request: &mut Request,
    ) -> Result<Answer, Refusal> {
        use Method::{Get, Post};
        let session = &self.session;
        match (method, path) {
            (Get, []) => shop::list(session),
            (Get, ["jobs"]) => shop::jobs(session),
            (Get, ["likely", id]) => shop::likely(session, number(id)?),
            (Post, ["engine"]) => shop::take(session, &request.json()?),
            (Post, ["engines"]) => shop::keep_engine(session, &request.json()?),
            (Post, ["jobs"]) => shop::keep_job(session, &request.json()?),
            (Post, ["outcomes"]) => shop::outcome(session, &request.json()?),
            (Post, ["file"]) => shop::add_file(session, request),
            _ => Err(Refusal::missing("address")),
        }
    }
}

/// A number within an address.
fn number(text: &str) -> Result<u64, Refusal> {
    text.parse().map_err(|_| Refusal::missing("number"))
}
