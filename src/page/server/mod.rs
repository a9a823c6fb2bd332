//! The page over HTTP, to a browser on this computer only: every request is handed to the service,
//! every answer written out. What the page can do is not known here.

mod guard;
mod key;

pub use key::{Key, number};

use std::net::{Ipv4Addr, TcpListener};
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::extract::State;
use axum::http::header::{
    CONTENT_DISPOSITION, CONTENT_LENGTH, CONTENT_SECURITY_POLICY, CONTENT_TYPE,
};
use axum::http::{self, HeaderValue, StatusCode};
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse, Response};
use http_body_util::BodyExt;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;

use super::service::{Answer, Method, Refusal, Reply, Service, Status};
use crate::remedy::{Mend, Remedy, Setting, mended_errors};
use crate::watch::Watch;

/// A report runs its own scripts and reaches nothing, not even this page.
const SEALED: HeaderValue = HeaderValue::from_static(
    "sandbox allow-scripts allow-modals; default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:; frame-ancestors 'self'",
);

/// Why the page cannot be served.
#[derive(Debug)]
pub enum PageError {
    /// The port cannot be had.
    Port {
        /// The port asked for.
        port: u16,
        /// What the system said.
        source: std::io::Error,
    },
    /// Serving stopped.
    Stopped(std::io::Error),
}

impl Mend for PageError {
    fn complaint(&self) -> String {
        match self {
            PageError::Port { port, source } => {
                format!("port {port} on this computer cannot be used: {source}")
            }
            PageError::Stopped(source) => format!("the page stopped: {source}"),
        }
    }

    fn remedies(&self) -> Vec<Remedy> {
        match self {
            PageError::Port { .. } => {
                vec![Remedy::Change(Setting::Port), Remedy::LeaveOut(Setting::Port)]
            }
            PageError::Stopped(_) => vec![Remedy::to("start it again")],
        }
    }
}

mended_errors!(PageError);

/// Takes a port of this computer, reachable from this computer alone; port 0 takes a free one.
///
/// # Errors
/// The port is in use or not allowed.
pub fn listen(port: u16) -> Result<(TcpListener, u16), PageError> {
    let refused = |source| PageError::Port { port, source };
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port)).map_err(refused)?;
    listener.set_nonblocking(true).map_err(refused)?;
    let port = listener.local_addr().map_err(refused)?.port();
    Ok((listener, port))
}

/// Serves until the program is interrupted, for whoever has the key.
///
/// # Errors
/// The system takes the port away, or no thread can be had.
pub fn serve(listener: TcpListener, service: Service, key: Option<Key>) -> Result<(), PageError> {
    serve_within(listener, service, key, HEAD_WITHIN)
}

/// The same with another patience for the head of a request.
///
/// # Errors
/// As [`serve`].
pub fn serve_within(
    listener: TcpListener,
    service: Service,
    key: Option<Key>,
    head: Duration,
) -> Result<(), PageError> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(PageError::Stopped)?;
    let served = runtime.block_on(async {
        let port = listener.local_addr()?.port();
        let listener = tokio::net::TcpListener::from_std(listener)?;
        let serving = tokio::spawn(answer(listener, router(service, port, key), head));
        if tokio::signal::ctrl_c().await.is_err() {
            // Without the signal the page is stopped the hard way; nothing is lost by that.
            let _ = serving.await;
        }
        Ok(())
    });
    // A measurement that is still running is not waited for.
    runtime.shutdown_background();
    served.map_err(PageError::Stopped)
}

/// How long a browser may take over the head of a request, and a body over its next piece, before
/// the connection is closed: a program that holds connections open and sends nothing takes no room.
const HEAD_WITHIN: Duration = Duration::from_secs(10);
const PIECE_WITHIN: Duration = Duration::from_secs(60);
/// How long to wait when the system has no more connections to give.
const AGAIN: Duration = Duration::from_millis(100);

/// Answers every connection, each beside the others.
async fn answer(listener: tokio::net::TcpListener, router: Router, head: Duration) {
    loop {
        let Ok((stream, _)) = listener.accept().await else {
            tokio::time::sleep(AGAIN).await;
            continue;
        };
        let service = TowerToHyperService::new(router.clone());
        tokio::spawn(async move {
            // A connection that breaks off is nobody's any more.
            let _ = http1::Builder::new()
                .timer(TokioTimer::new())
                .header_read_timeout(head)
                .serve_connection(TokioIo::new(stream), service)
                .await;
        });
    }
}

/// Carries every address of the page, served on a port of this computer, for whoever has the key;
/// without one, for everybody on this computer.
pub fn router(service: Service, port: u16, key: Option<Key>) -> Router {
    let door = guard::Door { port, key };
    Router::new().fallback(carry).layer(from_fn_with_state(door, guard::check)).with_state(service)
}

/// Takes a request in, has it answered beside other requests, and writes the answer.
async fn carry(State(service): State<Service>, request: http::Request<Body>) -> Response {
    let (head, mut body) = request.into_parts();
    let method = match head.method {
        http::Method::GET | http::Method::HEAD => Method::Get,
        http::Method::POST => Method::Post,
        http::Method::DELETE => Method::Delete,
        _ => return StatusCode::METHOD_NOT_ALLOWED.into_response(),
    };
    let address = head.uri.path_and_query().map_or("/", |address| address.as_str());
    let mut request = service.begin(method, address);
    // Held to the end: a tab that is closed, or breaks an upload off, stops the work on it as well.
    let _left = StopWhenLeft(request.watch());
    let announced =
        head.headers.get(CONTENT_LENGTH).and_then(|value| value.to_str().ok()?.parse::<u64>().ok());
    if let Err(refusal) = request.expect(announced.unwrap_or(0)) {
        return written(refusal.into());
    }
    loop {
        let piece = tokio::time::timeout(PIECE_WITHIN, body.frame()).await;
        let frame = match piece {
            Ok(None) => break,
            Ok(Some(Ok(frame))) => Some(frame),
            Ok(Some(Err(_))) | Err(_) => None,
        };
        let Some(frame) = frame else {
            return written(Refusal::unusable("The upload broke off. Drop the file again").into());
        };
        let taken = frame.data_ref().map_or(Ok(()), |piece| request.take(piece));
        if let Err(refusal) = taken {
            return written(refusal.into());
        }
    }
    match tokio::task::spawn_blocking(move || service.ask(request)).await {
        Ok(Reply { answer, work }) => {
            if let Some(work) = work {
                tokio::task::spawn_blocking(move || work.run());
            }
            written(answer)
        }
        Err(failed) => written(Refusal::broken(failed).into()),
    }
}

/// Stops work when whoever asked for it is gone.
struct StopWhenLeft(Watch);

impl Drop for StopWhenLeft {
    fn drop(&mut self) {
        self.0.stop();
    }
}

/// An answer as HTTP has it.
fn written(answer: Answer) -> Response {
    let status = match answer.status {
        Status::Done => StatusCode::OK,
        Status::Unusable => StatusCode::UNPROCESSABLE_ENTITY,
        Status::Missing => StatusCode::NOT_FOUND,
        Status::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
        Status::Stranger => StatusCode::FORBIDDEN,
        Status::Broken => StatusCode::INTERNAL_SERVER_ERROR,
    };
    let mut response =
        (status, [(CONTENT_TYPE, answer.kind)], Body::from(answer.body)).into_response();
    if answer.sealed {
        response.headers_mut().insert(CONTENT_SECURITY_POLICY, SEALED);
    }
    // The name is one of the service's own, so it needs no quoting.
    let saved = answer.save_as.map(|name| format!("attachment; filename=\"{name}\""));
    if let Some(saved) = saved.and_then(|saved| HeaderValue::try_from(saved).ok()) {
        response.headers_mut().insert(CONTENT_DISPOSITION, saved);
    }
    response
}
