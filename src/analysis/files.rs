//! Which of the leads asked for are for which of several captures.
//!
//! Two recordings with equal headers often carry different cams. A request names its file,
//! `run1.csv:crank`, or the requests stand in the order of the files: where a lead or a column
//! comes again, the next file's begin.

use super::AnalysisError;
use crate::capture::Capture;
use crate::engine::Engine;
use crate::leads::{LeadRequest, Role};

/// The requests of each capture, in the captures' order.
///
/// # Errors
/// [`AnalysisError::NoSuchFile`], when a request names a file that is not among them, or two that
/// are called alike.
pub(super) fn requests_of_each(
    captures: &[Capture],
    engine: &Engine,
    requests: &[LeadRequest],
) -> Result<Vec<Vec<LeadRequest>>, AnalysisError> {
    let mut of_each: Vec<Vec<LeadRequest>> = vec![Vec::new(); captures.len()];
    let mut open = Vec::new();
    for request in requests {
        match file_of(&request.name, engine) {
            Some((file, lead)) => {
                let at = find(captures, file)?;
                of_each[at].push(LeadRequest { name: lead.to_owned(), ..request.clone() });
            }
            None => open.push(request.clone()),
        }
    }
    let groups = groups(&open, engine);
    if groups.len() > 1 && groups.len() == captures.len() {
        of_each.iter_mut().zip(groups).for_each(|(requests, group)| requests.extend(group));
        return Ok(of_each);
    }
    // Asked for once, they are for every file, but for what one file has of its own. Asked for
    // twice, the assignment says so.
    for requests in &mut of_each {
        let own = requests.len();
        for request in &open {
            if !requests[..own].iter().any(|one| repeats(one, request, engine)) {
                requests.push(request.clone());
            }
        }
    }
    Ok(of_each)
}

/// File and lead of `run1.csv:crank`. A colon that belongs to a cam's name, or that no lead
/// follows, is none of a file.
fn file_of<'a>(name: &'a str, engine: &Engine) -> Option<(&'a str, &'a str)> {
    if Role::parse(name, engine).is_some() {
        return None;
    }
    let (file, lead) = name.rsplit_once(':')?;
    Role::parse(lead, engine)?;
    Some((file.trim(), lead.trim()))
}

/// The capture a request names, by its file name with or without folders before it.
fn find(captures: &[Capture], file: &str) -> Result<usize, AnalysisError> {
    let last = file.rsplit(['/', '\\']).next().unwrap_or(file);
    let mut named = (0..captures.len()).filter(|&at| captures[at].source == last);
    match (named.next(), named.next()) {
        (Some(only), None) => Ok(only),
        _ => Err(AnalysisError::NoSuchFile {
            file: file.to_owned(),
            known: captures.iter().map(|one| one.source.clone()).collect(),
        }),
    }
}

/// Whether two requests cannot be of one file: the same lead or the same column.
fn repeats(one: &LeadRequest, other: &LeadRequest, engine: &Engine) -> bool {
    let role = |request: &LeadRequest| Role::parse(&request.name, engine);
    let same_lead = role(one).is_some() && role(one) == role(other);
    same_lead || one.column.eq_ignore_ascii_case(&other.column)
}

/// The requests cut where one repeats another of its group.
fn groups(requests: &[LeadRequest], engine: &Engine) -> Vec<Vec<LeadRequest>> {
    let mut groups: Vec<Vec<LeadRequest>> = vec![Vec::new()];
    for request in requests {
        let again =
            |group: &Vec<LeadRequest>| group.iter().any(|one| repeats(one, request, engine));
        if groups.last().is_some_and(again) {
            groups.push(Vec::new());
        }
        if let Some(group) = groups.last_mut() {
            group.push(request.clone());
        }
    }
    groups
}
