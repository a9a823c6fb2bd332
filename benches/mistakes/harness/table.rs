//! The counts by kind of mistake.

use std::fmt::Write as _;

use super::kinds::kinds;
use super::trial::{Outcome, Trial};

fn count(trials: &[&Trial], outcome: Outcome) -> usize {
    trials.iter().filter(|trial| trial.outcome == outcome).count()
}

/// The table, the sums, and what was wrong.
pub fn table(trials: &[Trial]) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "| mistake | trials | finding right | finding wrong | does not fit, mistake named | does not fit, another named | cannot \
         tell | refused |\n| --- | --- | --- | --- | --- | --- | --- | --- |"
    );
    let row = |out: &mut String, name: &str, trials: &[&Trial]| {
        let of = |outcome| count(trials, outcome);
        let _ = writeln!(
            out,
            "| {name} | {} | {} | {} | {} | {} | {} | {} |",
            trials.len(),
            of(Outcome::Right),
            of(Outcome::Wrong),
            of(Outcome::Named),
            of(Outcome::Unnamed),
            of(Outcome::Open),
            of(Outcome::Refused)
        );
    };
    let kinds = kinds();
    for kind in &kinds {
        let own: Vec<&Trial> = trials.iter().filter(|trial| trial.kind == kind.name).collect();
        let mark = if kind.alike.is_some() { " *" } else { "" };
        row(&mut out, &format!("{}{mark}", kind.name), &own);
    }
    let is = |trial: &&Trial, wanted: &dyn Fn(&super::kinds::Kind) -> bool| {
        kinds.iter().any(|kind| kind.name == trial.kind && wanted(kind))
    };
    let told: Vec<&Trial> =
        trials.iter().filter(|trial| is(trial, &|kind| kind.alike.is_none())).collect();
    row(&mut out, "**all that can be told**", &told);
    let alike: Vec<&Trial> =
        trials.iter().filter(|trial| is(trial, &|kind| kind.alike.is_some())).collect();
    row(&mut out, "**those marked \\***", &alike);
    let mut reasons: Vec<&str> = kinds.iter().filter_map(|kind| kind.alike).collect();
    reasons.dedup();
    let _ = writeln!(out, "\n\\* in principle indistinguishable: {}.", reasons.join("; "));
    out
}

/// Every wrong finding on a line.
pub fn wrong(trials: &[Trial]) -> String {
    let mut out = String::new();
    for trial in trials.iter().filter(|trial| trial.outcome == Outcome::Wrong) {
        let _ = writeln!(
            out,
            "{} / {} / {:?} / seed {}: {}",
            trial.kind, trial.engine, trial.condition, trial.seed, trial.said
        );
    }
    out
}
