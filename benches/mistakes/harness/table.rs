//! The counts by kind of mistake.

use std::fmt::Write as _;

use super::kinds::kinds;
use super::trial::{Outcome, Trial};

fn count(trials: &[&Trial], outcome: Outcome) -> usize {
    trials.iter().filter(|trial| trial.outcome == outcome).count()
}

/// Place in the list of the first engine that no constant was chosen on.
const HELD_OUT_FROM: usize = 4;

fn is_held_out(engine: &str) -> bool {
    super::spec::engines().iter().skip(HELD_OUT_FROM).any(|one| one.name == engine)
}

/// The table, the sums, and what was wrong.
pub fn table(trials: &[Trial]) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "| mistake | trials | finding right | finding wrong | wrong, reads as said | does not fit, mistake named | does not fit, \
         another named | cannot tell | refused |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- |"
    );
    let row = |out: &mut String, name: &str, trials: &[&Trial]| {
        let of = |outcome| count(trials, outcome);
        let _ = writeln!(
            out,
            "| {name} | {} | {} | {} | {} | {} | {} | {} | {} |",
            trials.len(),
            of(Outcome::Right),
            of(Outcome::Wrong),
            of(Outcome::Alike),
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
    for (place, engine) in super::spec::engines().iter().enumerate() {
        let own: Vec<&Trial> =
            told.iter().filter(|one| one.engine == engine.name).copied().collect();
        row(&mut out, &format!("{}. {}", place + 1, engine.name), &own);
    }
    let mut reasons: Vec<&str> = kinds.iter().filter_map(|kind| kind.alike).collect();
    reasons.dedup();
    let does_not_fit = |trials: &[&Trial]| {
        let named = count(trials, Outcome::Named);
        (named, named + count(trials, Outcome::Unnamed))
    };
    // The constants were chosen with an eye on the engines before this one.
    let held_out: Vec<&Trial> =
        told.iter().filter(|one| is_held_out(one.engine)).copied().collect();
    let ((named, of), (all_named, all_of)) = (does_not_fit(&held_out), does_not_fit(&told));
    let _ = writeln!(
        out,
        "\nThe right mistake named where `does_not_fit` is said: {named} of {of} on the engines from {} on, that no constant was \
         chosen on; {all_named} of {all_of} on all.",
        HELD_OUT_FROM + 1
    );
    let _ = writeln!(out, "\n\\* in principle indistinguishable: {}.", reasons.join("; "));
    out
}

/// Every wrong finding on a line.
pub fn wrong(trials: &[Trial]) -> String {
    let mut out = String::new();
    let wrong = |trial: &&Trial| matches!(trial.outcome, Outcome::Wrong | Outcome::Alike);
    for trial in trials.iter().filter(wrong) {
        let _ = writeln!(
            out,
            "* {:?}: {} / {} / {:?} / seed {}: {}",
            trial.outcome, trial.kind, trial.engine, trial.condition, trial.seed, trial.said
        );
    }
    if out.is_empty() {
        out.push_str("None.\n");
    }
    out
}
