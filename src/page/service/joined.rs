//! Captures that are measured together: what each is called, and which lead is which in each.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Deserialize;

use super::held::HeldCapture;
use super::leads::sure;
use super::runs::AskedLead;
use crate::engine::Engine;
use crate::leads::LeadRequest;

/// What the columns of a joined capture were said to be when it was the one shown.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct JoinedLeads {
    pub capture: u64,
    pub leads: Vec<AskedLead>,
}

/// What the captures are called: those of one name are told apart, as files of one folder are.
pub(super) fn names(captures: &[Arc<HeldCapture>]) -> Vec<String> {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    let name = |held: &'_ Arc<HeldCapture>, count: usize| match count {
        1 => held.capture.source.clone(),
        _ => format!("{} ({count})", held.capture.source),
    };
    captures
        .iter()
        .map(|held| {
            let count = counts.entry(&held.capture.source).or_default();
            *count += 1;
            name(held, *count)
        })
        .collect()
}

/// The leads of every capture, the shown one first. A joined one is read as it was when it was
/// shown; one that never was, by its headers: those of the shown capture are hooked up alike, and
/// one that is a lead's own name is that lead.
pub(super) fn leads(
    captures: &[Arc<HeldCapture>],
    engine: &Engine,
    shown: &[AskedLead],
    said: &[Option<&[AskedLead]>],
) -> Vec<LeadRequest> {
    let nothing = shown.is_empty() && said.iter().flatten().all(|leads| leads.is_empty());
    let ([first, others @ ..], false) = (captures, nothing) else { return Vec::new() };
    if others.is_empty() {
        return shown.iter().map(LeadRequest::from).collect();
    }
    let of = |name: &String, leads: &[AskedLead]| -> Vec<LeadRequest> {
        let named = leads.iter().map(LeadRequest::from);
        named.map(|lead| LeadRequest { name: format!("{name}:{}", lead.name), ..lead }).collect()
    };
    let names = names(captures);
    let mut all = of(&names[0], shown);
    for (at, other) in others.iter().enumerate() {
        match said.get(at).copied().flatten().filter(|leads| !leads.is_empty()) {
            Some(leads) => all.extend(of(&names[at + 1], leads)),
            None => all.extend(of(&names[at + 1], &by_header(first, other, engine, shown))),
        }
    }
    all
}

fn by_header(
    first: &HeldCapture,
    other: &HeldCapture,
    engine: &Engine,
    shown: &[AskedLead],
) -> Vec<AskedLead> {
    let own = |(name, column): (String, usize)| AskedLead { name, column, amperes_per_volt: None };
    let mut leads: Vec<AskedLead> = sure(other, engine).into_iter().map(own).collect();
    for lead in shown {
        let header = first.capture.channels.iter().find(|one| one.column == lead.column);
        let same = header.and_then(|header| {
            let alike = |name: &str| name.trim().eq_ignore_ascii_case(header.name.trim());
            other.capture.channels.iter().find(|one| alike(&one.name))
        });
        let taken = |column| leads.iter().any(|one| one.column == column || one.name == lead.name);
        if let Some(same) = same
            && !taken(same.column)
        {
            leads.push(AskedLead { column: same.column, ..lead.clone() });
        }
    }
    leads
}
