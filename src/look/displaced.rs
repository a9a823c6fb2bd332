//! Teeth that a jittery clock moves: no accidents.

use super::align::{Marks, Sight};

/// An edge within this share of a slot of where its mark is expected is that mark's. Halfway to the
/// next it could be either's, and the edges it is placed between are displaced a little themselves.
const DISPLACED: f64 = 1.0 / 3.0;

/// The path with those edges back in that it passed over together with as many marks. An edge that
/// comes early and is followed by one that comes late makes a short and a long step, which the
/// search may find dearer than a tooth that is missing and an edge too many; but it is a tooth, in
/// its place but for its scatter.
pub(super) fn with_displaced(times: &[f64], marks: &Marks, sights: &[Sight]) -> Vec<Sight> {
    let count = marks.at.len();
    let Some(&first) = sights.first() else { return Vec::new() };
    let mut all = vec![first];
    for pair in sights.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        let steps = to.edge - from.edge;
        if steps == to.number(count) - from.number(count) {
            let slots = marks.advance(from.mark, steps);
            let slot = (times[to.edge] - times[from.edge]) / slots;
            all.extend((1..steps).filter_map(|step| {
                let (edge, mark) = (from.edge + step, from.mark + step);
                let expected = times[from.edge] + slot * marks.advance(from.mark, step);
                let near = (times[edge] - expected).abs() <= DISPLACED * slot;
                near.then_some(Sight { edge, mark: mark % count, pass: from.pass + mark / count })
            }));
        }
        all.push(to);
    }
    all
}

#[cfg(test)]
mod tests {
    use super::super::align::{Marks, WHOLE, align};

    /// Two teeth of a steady wheel come early and late by a sixth of a slot, as a coarse clock has
    /// them; a third by half a slot, which is no tooth in its place.
    #[test]
    fn a_tooth_that_comes_early_is_a_tooth() {
        let marks = Marks { at: (0..10).map(f64::from).collect(), period: 12.0 };
        let mut times: Vec<f64> = (0..120_usize)
            .filter(|slot| slot % 12 < 10)
            .map(|slot| 0.01 * slot as f64 + if slot % 2 == 0 { 0.0003 } else { 0.0 })
            .collect();
        times[33] -= 0.0017;
        times[34] += 0.0017;
        times[65] += 0.0050;
        let found = align(&times, &marks, &WHOLE).expect("aligned");
        assert_eq!((found.missed, found.extra), (1, 1));
        let edges: Vec<usize> = found.sights.iter().map(|sight| sight.edge).collect();
        assert_eq!(edges, (0..100).filter(|&edge| edge != 65).collect::<Vec<_>>());
    }
}
