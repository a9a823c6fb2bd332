//! The count: seeds through practice and `look`, in a table.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use rayon::prelude::*;

use super::case::{Trap, draw};
use super::judge::{Outcome, judge};

/// One capture.
pub struct Counted {
    pub seed: u64,
    pub wheel: &'static str,
    pub traps: Vec<Trap>,
    pub decided: bool,
    pub outcome: Outcome,
    pub said: String,
}

/// Counts over seeds; captures that cannot be made are left out.
pub fn count(seeds: std::ops::Range<u64>) -> Vec<Counted> {
    seeds
        .into_par_iter()
        .filter_map(|seed| {
            let case = draw(seed).ok()?;
            let (outcome, said) = judge(&case);
            Some(Counted {
                seed,
                wheel: case.wheel,
                traps: case.traps,
                decided: case.decided,
                outcome,
                said,
            })
        })
        .collect()
}

/// The table: all, by trap, by wheel; then what went wrong.
pub fn table(counted: &[Counted]) -> String {
    let mut rows: Vec<(String, Vec<&Counted>)> = vec![("all".into(), counted.iter().collect())];
    rows.push((
        "told apart by anything".into(),
        counted.iter().filter(|one| one.decided).collect(),
    ));
    rows.push(("no trap".into(), counted.iter().filter(|one| one.traps.is_empty()).collect()));
    for trap in Trap::ALL {
        let with = counted.iter().filter(|one| one.traps.contains(&trap)).collect();
        rows.push((trap.word().to_owned(), with));
    }
    let mut wheels: BTreeMap<&str, Vec<&Counted>> = BTreeMap::new();
    for one in counted {
        wheels.entry(one.wheel).or_default().push(one);
    }
    rows.extend(wheels.into_iter().map(|(wheel, list)| (wheel.to_owned(), list)));
    let mut out = String::from(
        "| captures | n | right and sure | right | not sure | wrong | wrong and sure |\n| --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for (name, list) in rows {
        let _ = write!(out, "| {name} | {} |", list.len());
        for outcome in Outcome::ALL {
            let n = list.iter().filter(|one| one.outcome == outcome).count();
            let _ = write!(out, " {n} |");
        }
        out.push('\n');
    }
    out
}
