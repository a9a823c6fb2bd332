//! Two measurements of this session, before and after a repair.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, Query, State};
use axum::http::header::{CONTENT_SECURITY_POLICY, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};

use super::answer::Refusal;
use super::runs::{REPORT_POLICY, download};
use super::session::Session;
use crate::compare::{CompareError, Comparison, compare};
use crate::report::compare as written;

/// Which two.
#[derive(Debug, Deserialize)]
pub(super) struct Asked {
    before: u64,
    after: u64,
    /// The user insists on the order.
    #[serde(default)]
    in_order: bool,
}

/// What came of it.
#[derive(Serialize)]
pub(super) struct Shown {
    /// The two look the wrong way round; nothing else is filled then.
    wrong_way_round: bool,
    message: String,
    table: Option<written::Table>,
}

fn comparison(
    session: &Session,
    before: u64,
    after: u64,
    in_order: bool,
) -> Result<Result<Comparison, CompareError>, Refusal> {
    let run = |id: u64| session.run(id).ok_or_else(|| Refusal::missing("measurement"));
    let (first, second) = (run(before)?, run(after)?);
    if before == after {
        return Err(Refusal::unusable("These are one measurement. Choose another one as “after”"));
    }
    if first.engine().text != second.engine().text {
        return Err(Refusal::unusable(format!(
            "The two were held against different engine descriptions, {} and {}. Measure both against the same one",
            first.engine().engine.name,
            second.engine().engine.name
        )));
    }
    let unfinished = || Refusal::unusable("One of the two has no result. Measure it first");
    let analyses = first.analysis().zip(second.analysis()).ok_or_else(unfinished)?;
    Ok(compare(analyses.0, analyses.1, in_order))
}

/// Compares two.
pub(super) async fn show(
    State(session): State<Arc<Session>>,
    Query(asked): Query<Asked>,
) -> Result<Json<Shown>, Refusal> {
    let compared = comparison(&session, asked.before, asked.after, asked.in_order)?;
    Ok(Json(match compared {
        Ok(comparison) => Shown {
            wrong_way_round: false,
            message: String::new(),
            table: Some(written::table(&comparison)),
        },
        Err(CompareError::WrongWayRound { before, after, .. }) => Shown {
            wrong_way_round: true,
            message: format!(
                "{before} is in time and {after} is not. Either the two are the wrong way round, or the repair made it worse."
            ),
            table: None,
        },
    }))
}

/// The sign-off sheet or the comparison as JSON. The name is looked up, never opened.
pub(super) async fn file(
    State(session): State<Arc<Session>>,
    Path((before, after, name)): Path<(u64, u64, String)>,
) -> Result<Response, Refusal> {
    // Whoever opens the sheet has seen the table, and any doubt about the order beside it.
    let comparison = comparison(&session, before, after, true)?.map_err(Refusal::unusable)?;
    let html = "text/html; charset=utf-8";
    match name.as_str() {
        "sheet" => {
            let headers = [(CONTENT_TYPE, html), (CONTENT_SECURITY_POLICY, REPORT_POLICY)];
            Ok((headers, written::sign_off(&comparison)).into_response())
        }
        "sheet.html" => Ok(download(html, &name, written::sign_off(&comparison).into())),
        "comparison.json" => {
            Ok(download("application/json", &name, written::json(&comparison).into()))
        }
        _ => Err(Refusal::missing("file")),
    }
}
