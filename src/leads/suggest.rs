//! The one rule that suggests which lead a column carries. Nothing is dealt out: where more than
//! one lead would fit, the column is left to the user.

use super::Role;
use super::words::{RoleGuess, Words};
use crate::engine::{CamShaft, Engine};

/// What is known of a column before anybody has said what it carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seen<'a> {
    /// Its header.
    pub header: &'a str,
    /// What its header or its signal looks like.
    pub kind: RoleGuess,
}

/// What a column may carry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Suggestion {
    /// The lead; `None` where none fits, or more than one.
    pub role: Option<Role>,
    /// Whether its header is that lead's own name. Everything else is a guess that a person has to
    /// confirm.
    pub sure: bool,
    /// Leads among which it is open, where it is.
    pub open: Vec<Role>,
}

/// Suggests a lead for every column, each lead at most once: those whose header is a lead's own
/// name, then those for which one lead alone is left.
#[must_use]
pub fn suggest(columns: &[Seen], engine: &Engine) -> Vec<Suggestion> {
    let named: Vec<Option<Role>> =
        columns.iter().map(|column| Role::parse(column.header, engine)).collect();
    let mut left: Vec<Vec<Role>> = columns
        .iter()
        .zip(&named)
        .map(|(column, named)| named.map_or_else(|| fitting(column, engine), |role| vec![role]))
        .collect();
    let mut found: Vec<Option<Role>> = vec![None; columns.len()];
    // A name takes its lead from every guess.
    for &role in named.iter().flatten() {
        for (fits, _) in left.iter_mut().zip(&named).filter(|(_, named)| named.is_none()) {
            fits.retain(|&fit| fit != role);
        }
    }
    while let Some((at, role)) = only_one_left(&left, &found) {
        found[at] = Some(role);
        for (index, fits) in left.iter_mut().enumerate().filter(|(index, _)| *index != at) {
            if found[index].is_none() {
                fits.retain(|&fit| fit != role);
            }
        }
    }
    (0..columns.len())
        .map(|at| Suggestion {
            role: found[at],
            sure: found[at].is_some() && named[at].is_some(),
            open: if found[at].is_some() { Vec::new() } else { left[at].clone() },
        })
        .collect()
}

/// A column that one lead alone fits, if that lead alone fits no other column.
fn only_one_left(left: &[Vec<Role>], found: &[Option<Role>]) -> Option<(usize, Role)> {
    let open = || (0..left.len()).filter(|&at| found[at].is_none());
    open().find_map(|at| match left[at][..] {
        [role] => {
            let rivals = open().filter(|&other| other != at && left[other][..] == [role]).count();
            (rivals == 0).then_some((at, role))
        }
        _ => None,
    })
}

/// Every lead of the engine that a column may carry.
fn fitting(column: &Seen, engine: &Engine) -> Vec<Role> {
    let words = Words::of(column.header);
    let cylinders = || {
        let all = engine.firing_order.iter().copied();
        all.filter(|&cylinder| words.cylinder.is_none_or(|said| said == cylinder))
    };
    match column.kind {
        RoleGuess::Crank => vec![Role::Crank],
        RoleGuess::Starter => vec![Role::Starter],
        RoleGuess::Battery => vec![Role::Battery],
        RoleGuess::Ignition => cylinders().map(Role::Ignition).collect(),
        RoleGuess::Injector => cylinders().map(Role::Injector).collect(),
        RoleGuess::Pressure => cylinders().map(Role::Pressure).collect(),
        RoleGuess::Unknown => Vec::new(),
        RoleGuess::Cam => {
            let cams = engine.cams.iter().enumerate();
            cams.filter(|(_, cam)| {
                let bank = words.bank.is_none_or(|bank| bank == cam.bank);
                let shaft = words
                    .shaft
                    .is_none_or(|shaft| cam.shaft == shaft || cam.shaft == CamShaft::Single);
                bank && shaft
            })
            .map(|(index, _)| Role::Cam(index))
            .collect()
        }
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::RoleGuess::{Battery, Cam, Crank, Ignition, Starter, Unknown};
    use super::*;

    /// The demonstration's engine: B1 intake and B2 intake.
    fn engine() -> Engine {
        let text = include_str!("../../demo-data/engine.toml");
        Engine::parse(text, Path::new("engine.toml")).expect("the demonstration engine")
    }

    /// Suggestions as words: a lead with `?` unless it is sure, or what is open.
    fn said(columns: &[(&str, RoleGuess)]) -> Vec<String> {
        let engine = engine();
        let seen: Vec<Seen> = columns.iter().map(|&(header, kind)| Seen { header, kind }).collect();
        suggest(&seen, &engine)
            .into_iter()
            .map(|one| match one.role {
                Some(role) => role.name(&engine) + if one.sure { "" } else { "?" },
                None => {
                    let open: Vec<String> =
                        one.open.iter().map(|role| role.name(&engine)).collect();
                    open.join(" or ")
                }
            })
            .collect()
    }

    #[test]
    fn names_are_sure_and_cams_are_never_dealt_out() {
        let both = "B1 intake or B2 intake";
        // (columns, what is said of each)
        type Row<'a> = (&'a [(&'a str, RoleGuess)], &'a [&'a str]);
        let rows: [Row; 8] = [
            (
                &[("crank (V)", Crank), ("B1_intake", Cam), ("b2 intake", Cam)],
                &["crank", "B1 intake", "B2 intake"],
            ),
            (
                &[("Channel 1", Crank), ("Channel 2", Cam), ("Channel 3", Cam)],
                &["crank?", both, both],
            ),
            (&[("Channel 1", Cam), ("bank 2 cam", Cam)], &["B1 intake?", "B2 intake?"]),
            (&[("B1 intake", Cam), ("Channel 2", Cam)], &["B1 intake", "B2 intake?"]),
            (
                &[("B1 intake", Cam), ("Channel 2", Cam), ("Channel 3", Cam)],
                &["B1 intake", "B2 intake", "B2 intake"],
            ),
            (&[("exhaust", Cam), ("noise", Unknown)], &["", ""]),
            (
                &[("a", Starter), ("b", Battery), ("coil 3", Ignition)],
                &["starter?", "battery?", "ignition 3?"],
            ),
            (&[("crank", Crank), ("Crank (V)", Crank)], &["crank", "crank"]),
        ];
        for (columns, want) in rows {
            assert_eq!(said(columns), want, "{columns:?}");
        }
        // Of a cylinder that is not said all are open.
        assert_eq!(said(&[("pulses", Ignition)])[0].matches("ignition").count(), 6);
    }

    #[test]
    fn a_lead_is_suggested_once() {
        let engine = engine();
        let columns = ["Channel 1", "Channel 2", "Channel 3"];
        for kind in [Crank, Starter, Cam] {
            let seen = columns.map(|header| Seen { header, kind });
            assert!(suggest(&seen, &engine).iter().all(|one| one.role.is_none()), "{kind:?}");
        }
    }
}
