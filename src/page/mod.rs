//! The same work in a browser, on this computer only.
//!
//! A thin front: it reads captures and engine files with the readers every command uses, runs
//! [`analyse`](crate::analysis::analyse), and shows the report of [`html`](crate::report::html). What a browser sends is
//! data, never a path that is opened. Uploads are held in memory and go with the program; no file is written.

mod answer;
mod captures;
mod compared;
mod engines;
mod form;
mod guard;
mod leads;
mod reading;
mod runs;
mod session;
mod shell;
mod wheel;

use std::net::{Ipv4Addr, TcpListener};
use std::sync::Arc;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware::from_fn_with_state;
use axum::routing::{delete, get, post};

pub use session::Session;

/// Bytes of an upload unless the user allows more: five minutes of four channels at 50 kS/s.
pub const MAX_UPLOAD: u64 = 500_000_000;

/// Why the page cannot be served.
#[derive(Debug, thiserror::Error)]
pub enum PageError {
    /// The port cannot be had.
    #[error(
        "port {port} on this computer cannot be used: {source}. Give another one with --port, or leave --port out"
    )]
    Port {
        /// The port asked for.
        port: u16,
        /// What the system said.
        source: std::io::Error,
    },
    /// Serving stopped.
    #[error("the page stopped: {0}. Start it again")]
    Stopped(std::io::Error),
}

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

/// Serves until the program is interrupted.
///
/// # Errors
/// The system takes the port away, or no thread can be had.
pub fn serve(listener: TcpListener, session: Arc<Session>) -> Result<(), PageError> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(PageError::Stopped)?;
    let served = runtime.block_on(async {
        let listener = tokio::net::TcpListener::from_std(listener)?;
        let ended = async {
            // Without the signal the page is stopped the hard way; nothing is lost by that.
            let _ = tokio::signal::ctrl_c().await;
        };
        axum::serve(listener, router(session)).with_graceful_shutdown(ended).await
    });
    // A measurement that is still running is not waited for.
    runtime.shutdown_background();
    served.map_err(PageError::Stopped)
}

/// Every address of the page.
pub fn router(session: Arc<Session>) -> Router {
    Router::new()
        .route("/", get(shell::page))
        .route("/page.css", get(shell::style))
        .route("/page.js", get(shell::script))
        .route("/form.js", get(shell::script))
        .route("/common.js", get(shell::script))
        .route("/api/session", get(shell::state))
        .route("/api/captures", post(captures::upload))
        .route("/api/captures/{id}", get(captures::show).delete(captures::remove))
        .route("/api/readings/{number}", get(reading::show).delete(reading::stop))
        .route("/api/engines", post(engines::upload))
        .route("/api/engines/form", post(engines::from_form))
        .route("/api/engines/{id}", get(engines::show))
        .route("/api/leads", get(leads::show))
        .route("/api/wheel", get(wheel::draw))
        .route("/api/runs", post(runs::start))
        .route("/api/runs/{id}", get(runs::show))
        .route("/api/runs/{id}/cancel", delete(runs::cancel))
        .route("/runs/{id}/{file}", get(runs::file))
        .route("/api/compare", get(compared::show))
        .route("/compare/{before}/{after}/{file}", get(compared::file))
        // Uploads are counted as they come, against the session's own limit.
        .layer(DefaultBodyLimit::disable())
        .layer(from_fn_with_state(session.clone(), guard::check))
        .with_state(session)
}
