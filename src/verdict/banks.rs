//! Which compressions are a bank, as far as that is known.

use std::collections::BTreeSet;

use crate::compression::Compression;
use crate::engine::Engine;

/// The compressions (indices) that may be those of one bank, of engines with several; banks of one
/// cylinder are single cylinders.
pub(super) fn banks(engine: &Engine, measured: &Compression) -> Vec<Vec<usize>> {
    let groups: Vec<Option<u32>> = measured.cylinders.iter().map(|one| one.group).collect();
    if groups.contains(&None) {
        return unplaced(engine, measured);
    }
    let names: BTreeSet<u32> = groups.iter().flatten().copied().collect();
    if names.len() < 2 {
        return Vec::new();
    }
    let members = |name: &u32| -> Vec<usize> {
        (0..groups.len()).filter(|&at| groups[at] == Some(*name)).collect()
    };
    names.iter().map(members).filter(|members| members.len() > 1).collect()
}

/// Where nothing says which compression is cylinder 1's: what each bank would be from each place at
/// which the firing order may begin. Of 1-6-5-4-3-2 with banks 1-2-3 and 4-5-6 any three that come
/// one after the other; which bank they are stays open.
fn unplaced(engine: &Engine, measured: &Compression) -> Vec<Vec<usize>> {
    let count = measured.cylinders.len();
    let order = &engine.firing_order;
    let named = measured.cylinders.iter().any(|one| one.cylinder.is_some() || one.bank.is_some());
    if named || engine.banks.len() < 2 || order.len() != count || !fires_evenly(engine) {
        return Vec::new();
    }
    let bank_at =
        |position: usize, turned: usize| engine.bank_of(order[(position + turned) % count]);
    let mut possible = BTreeSet::new();
    for turned in 0..count {
        for &bank in engine.banks.keys() {
            let members = (0..count).filter(|&at| bank_at(at, turned) == Some(bank));
            possible.insert(members.collect::<Vec<usize>>());
        }
    }
    possible.into_iter().filter(|members| members.len() > 1).collect()
}

/// Whether every compression follows the one before it by the same angle: else their spacing says
/// more of which is which than is made use of here.
fn fires_evenly(engine: &Engine) -> bool {
    /// Firing angles are written to a tenth of a degree or better; crank degrees.
    const SAME: f64 = 0.5;
    let interval = engine.firing_interval().0;
    let angles = engine.firing_angles.iter().enumerate();
    angles.into_iter().all(|(at, angle)| (angle.0 - interval * at as f64).abs() < SAME)
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;

    #[test]
    fn only_even_firing_may_begin_anywhere() {
        let of = |more: &str| {
            let text = format!(
                "name = \"six\"\nfiring_order = [1, 6, 5, 4, 3, 2]\n{more}\n[crank]\nwheel = \"36-2\"\nsensor = \"hall\"\n"
            );
            Engine::parse(&text, Path::new("six.toml")).expect("an engine")
        };
        assert!(fires_evenly(&of("")));
        assert!(!fires_evenly(&of("firing_angles = [0, 90, 240, 330, 480, 570]")));
    }
}
