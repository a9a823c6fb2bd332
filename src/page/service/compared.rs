//! Two measurements of this session, before and after a repair.

use serde::{Deserialize, Serialize};

use super::answer::{Answer, HTML, JSON, Refusal};
use super::run::Run;
use super::runs::AskedJob;
use super::session::Session;
use crate::compare::{CompareError, Compared, compare_checked};
use crate::report::compare as written;
use crate::report::job::Job;

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
struct Shown {
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
) -> Result<Result<Compared, CompareError>, Refusal> {
    let run = |id: u64| session.run(id).ok_or_else(|| Refusal::missing("measurement"));
    let (first, second) = (run(before)?, run(after)?);
    if before == after {
        return Err(Refusal::unusable("These are one measurement. Choose another one as “after”"));
    }
    let (one, two) = (first.engine(), second.engine());
    if one.text != two.text {
        return Err(Refusal::unusable(format!(
            "The two were held against different engine descriptions, {} and {}. Measure both against the same one",
            one.engine.name, two.engine.name
        )));
    }
    let unfinished = || Refusal::unusable("One of the two has no result. Measure it first");
    let checked = |run: &Run| {
        run.read(|outcome| outcome.map(|outcome| outcome.checked.clone())).ok_or_else(unfinished)
    };
    Ok(compare_checked(checked(&first)?, checked(&second)?, in_order))
}

/// Compares two.
pub(super) fn show(session: &Session, asked: &Asked) -> Result<Answer, Refusal> {
    let compared = comparison(session, asked.before, asked.after, asked.in_order)?;
    Ok(Answer::json(&match compared {
        Ok(comparison) => Shown {
            wrong_way_round: false,
            message: String::new(),
            table: Some(written::compared_table(&comparison)),
        },
        Err(error @ CompareError::UnlikeLeads { .. }) => return Err(Refusal::mendable(error)),
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
pub(super) fn file(
    session: &Session,
    before: u64,
    after: u64,
    name: &str,
    lines: AskedJob,
) -> Result<Answer, Refusal> {
    // Whoever opens the sheet has seen the table, and any doubt about the order beside it.
    let comparison = comparison(session, before, after, true)?.map_err(Refusal::mendable)?;
    let job = Job::from(lines);
    let sheet = || written::compared_sheet(&comparison, &job);
    match name {
        "sheet" => Ok(Answer::report(sheet())),
        "sheet.html" => Ok(Answer::file(HTML, name, sheet().into())),
        "comparison.json" => {
            Ok(Answer::file(JSON, name, written::compared_json(&comparison).into()))
        }
        _ => Err(Refusal::missing("file")),
    }
}
