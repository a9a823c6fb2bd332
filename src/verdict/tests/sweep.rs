//! The two worst defects, swept: a sound, worn or phaser-only engine called `jumped`, and a
//! jumped one called `in_time`.

use super::bench::*;
use crate::crank::Condition;
use crate::verdict::State;

const SECONDARY: f64 = 360.0 / 14.0;

/// Weighs the four-cam engine with and without a code; small errors of different signs on top.
fn states(off: [f64; 4], condition: Condition) -> Vec<State> {
    let errors = [0.6, -0.7, -0.4, 0.8];
    let mut found = Vec::new();
    for sign in [1.0, -1.0] {
        let off: Vec<f64> = off.iter().zip(errors).map(|(off, error)| off + sign * error).collect();
        let bench = || Bench::new(four_cams(true), &off).condition(condition);
        found.push(bench().weigh().state);
        found.push(bench().without_code().weigh().state);
    }
    found
}

#[test]
fn a_worn_chain_is_never_called_a_jump() {
    for chain in [[1.0, 1.0, 1.0, 1.0], [1.0, 1.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0]] {
        for amount in 0..=12 {
            let off = chain.map(|moves| moves * f64::from(amount));
            let found = states(off, Condition::Cranking);
            assert!(!found.contains(&State::Jumped), "{off:?}: {found:?}");
        }
    }
}

#[test]
#[ignore = "wide: .ci/run runs it"]
fn a_phaser_is_never_called_a_jump() {
    for condition in [Condition::Cranking, Condition::Running] {
        for (first, second) in [(1.0, 0.0), (1.0, 1.0), (1.0, 0.4)] {
            for amount in (0..=50).step_by(2) {
                let off = [-first * f64::from(amount), 0.0, -second * f64::from(amount), 0.0];
                let found = states(off, condition);
                assert!(!found.contains(&State::Jumped), "{condition:?} {off:?}: {found:?}");
            }
        }
    }
}

#[test]
#[ignore = "wide: .ci/run runs it"]
fn a_skip_is_never_called_in_time() {
    let places = [
        ([1.0, 1.0, 0.0, 0.0], TOOTH),
        ([0.0, 0.0, 1.0, 1.0], TOOTH),
        ([1.0, 1.0, 1.0, 1.0], TOOTH),
        ([0.0, 0.0, 0.0, 1.0], SECONDARY),
    ];
    for (moves, step) in places {
        for teeth in [-4, -3, -2, -1, 1, 2, 3, 4] {
            for wear in [0.0, 4.0, 8.0] {
                let off = moves.map(|moves| moves * step * f64::from(teeth) + wear);
                let found = states(off, Condition::Cranking);
                assert!(!found.contains(&State::InTime), "{off:?}: {found:?}");
            }
        }
    }
}
